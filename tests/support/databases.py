"""Databases for tests: migrated once a run, copied for every process that wants one of its own."""

import os
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
from django.db import connection

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


def copy_sqlite_template(path: Path) -> None:
    shutil.copyfile(_sqlite_template(), path)


def _on_server(statement: str) -> None:
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as server:
        server.execute(statement)
