"""Databases for tests: migrated once a run, copied for every process that wants one of its own.

`tests.support.run` migrates one template for all parts of a run and names it in TEST_TEMPLATE: a file on SQLite, a
database on PostgreSQL. A plain `pytest` has none; there the test database is migrated, and then kept as the template.
"""

import os
import shutil
import sqlite3
import uuid
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import psycopg
from django.conf import settings
from django.db import connection
from django.test.utils import setup_databases, teardown_databases
from psycopg.conninfo import conninfo_to_dict

POSTGRES_TEMPLATE = "stack_template"


def _sqlite_template() -> Path:
    return Path(os.environ.get("TEST_TEMPLATE") or Path(os.environ["VAR_DIR"]).parent / "template.sqlite3")


@contextmanager
def made_database() -> Iterator[None]:
    """The database of this test process, as the migrations leave it."""
    if "TEST_TEMPLATE" not in os.environ:
        made = setup_databases(verbosity=0, interactive=False, serialized_aliases=set())
        _keep_template()
        yield
        teardown_databases(made, verbosity=0)
        return
    before = connection.settings_dict["NAME"]
    _copy_template_for_tests()
    yield
    connection.creation.destroy_test_db(before, verbosity=0)


def _copy_template_for_tests() -> None:
    """As Django makes its test database, but for the migrating: that takes some ten seconds of processor."""
    name = connection.creation._get_test_db_name()
    connection.close()
    if connection.vendor == "postgresql":
        name = f"{name}_{uuid.uuid4().hex[:8]}"  # parts that run side by side share the server
        _on_server(f'CREATE DATABASE "{name}" TEMPLATE "{os.environ["TEST_TEMPLATE"]}"')
    settings.DATABASES["default"]["NAME"] = connection.settings_dict["NAME"] = name
    connection.ensure_connection()
    if connection.vendor == "sqlite":
        with closing(sqlite3.connect(_sqlite_template())) as template:
            template.backup(connection.connection)


def _keep_template() -> None:
    """Keep the test database as the migrations leave it: copying takes milliseconds, migrating some ten seconds."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("VACUUM INTO %s", [str(_sqlite_template())])
        return
    connection.close()  # nobody may look at what is being copied
    _on_server(f'CREATE DATABASE "{POSTGRES_TEMPLATE}" TEMPLATE "{connection.settings_dict["NAME"]}"')


@contextmanager
def own_database(folder: Path) -> Iterator[str]:
    """The DATABASE_URL of a migrated database that nobody else uses."""
    if not os.environ.get("DATABASE_URL", "").startswith("postgresql"):
        path = folder / "stack.sqlite3"
        copy_sqlite_template(path)
        yield f"sqlite://{path}"
        return
    name = f"stack_{uuid.uuid4().hex[:8]}"
    _on_server(f'CREATE DATABASE "{name}" TEMPLATE "{os.environ.get("TEST_TEMPLATE", POSTGRES_TEMPLATE)}"')
    yield os.environ["DATABASE_URL"].replace("/postgres?", f"/{name}?")


def keep(url: str) -> None:
    """Remember the rows as they are now, under a name that bring_back knows. Nobody may be at work on them."""
    if url.startswith("sqlite"):
        _copy_sqlite(url.removeprefix("sqlite://"), f"{url.removeprefix('sqlite://')}.kept")
    else:
        _copy_postgres(conninfo_to_dict(url)["dbname"], f"{conninfo_to_dict(url)['dbname']}_kept")


def bring_back(url: str) -> None:
    """The rows as they were kept. Idle processes may stay connected: they find the old rows, or connect anew."""
    if url.startswith("sqlite"):
        _copy_sqlite(f"{url.removeprefix('sqlite://')}.kept", url.removeprefix("sqlite://"))
    else:
        _copy_postgres(f"{conninfo_to_dict(url)['dbname']}_kept", conninfo_to_dict(url)["dbname"])


def _copy_sqlite(source: str, target: str) -> None:
    with closing(sqlite3.connect(source, timeout=60)) as old, closing(sqlite3.connect(target, timeout=60)) as new:
        old.backup(new)


def _copy_postgres(source: str, target: str) -> None:
    _on_server(
        f'DROP DATABASE IF EXISTS "{target}" WITH (FORCE)',
        f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{source}'",  # noqa: S608 - our name
        f'CREATE DATABASE "{target}" TEMPLATE "{source}"',
    )


def copy_sqlite_template(path: Path) -> None:
    shutil.copyfile(_sqlite_template(), path)


def _on_server(*statements: str) -> None:
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as server:
        for statement in statements:
            server.execute(statement)
