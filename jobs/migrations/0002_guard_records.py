"""The database itself refuses to change a journal entry, a promise or a decision."""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

TABLES = ("jobs_journalentry", "jobs_promise", "jobs_decision")


def guard(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    for table in TABLES:
        guard_table(editor, table)


def unguard(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    for table in TABLES:
        unguard_table(editor, table)


def guard_table(editor: BaseDatabaseSchemaEditor, table: str) -> None:
    if editor.connection.vendor == "postgresql":
        editor.execute(
            "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'rows of % are never changed', TG_TABLE_NAME "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$",
            params=None,  # or the driver takes the % for a parameter
        )
        editor.execute(
            f"CREATE TRIGGER {table}_unchangeable BEFORE UPDATE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
        )
    else:
        editor.execute(
            f"CREATE TRIGGER {table}_unchangeable BEFORE UPDATE ON {table} "
            f"BEGIN SELECT RAISE(ABORT, 'rows of {table} are never changed'); END"
        )


def unguard_table(editor: BaseDatabaseSchemaEditor, table: str) -> None:
    on_table = f" ON {table}" if editor.connection.vendor == "postgresql" else ""
    editor.execute(f"DROP TRIGGER {table}_unchangeable{on_table}")


class Migration(migrations.Migration):
    dependencies = [("jobs", "0001_initial")]

    operations = [migrations.RunPython(guard, unguard)]
