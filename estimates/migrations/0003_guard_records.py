"""The database itself refuses to change an offer or a revision."""

from importlib import import_module

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

guards = import_module("jobs.migrations.0002_guard_records")
TABLES = ("estimates_offer", "estimates_revision")


def guard(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    for table in TABLES:
        guards.guard_table(editor, table)


def unguard(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    for table in TABLES:
        guards.unguard_table(editor, table)


class Migration(migrations.Migration):
    dependencies = [("estimates", "0002_initial"), ("jobs", "0002_guard_records")]

    operations = [migrations.RunPython(guard, unguard)]
