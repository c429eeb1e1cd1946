"""Databases for tests: migrated once a run, copied for every process that wants one of its own."""

import os
import shutil
import sqlite3
import uuid
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import psycopg
from django.db import connection
from psycopg.conninfo import conninfo_to_dict

POSTGRES_TEMPLATE = "stack_template"


def _sqlite_template() -> Path:
    return Path(os.environ["VAR_DIR"]).parent / "template.sqlite3"


def keep_template() -> None:
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
    _on_server(f'CREATE DATABASE "{name}" TEMPLATE "{POSTGRES_TEMPLATE}"')
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
