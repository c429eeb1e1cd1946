"""The database itself refuses to change a round of readings or a reading: they are evidence."""

from importlib import import_module

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

TABLES = ("jobs_readinground", "jobs_reading")
records = import_module("jobs.migrations.0002_guard_records")


def guard(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    for table in TABLES:
        records.guard_table(editor, table)


def unguard(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    for table in TABLES:
        records.unguard_table(editor, table)


class Migration(migrations.Migration):
    dependencies = [("jobs", "0003_evidence_and_drying")]

    operations = [migrations.RunPython(guard, unguard)]
