"""What was forecast of each coach on each day; the database itself refuses to change it."""

from importlib import import_module

import django.db.models.deletion
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

guards = import_module("jobs.migrations.0002_guard_records")
TABLE = "estimates_dayforecast"


def guard(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    guards.guard_table(editor, TABLE)


def unguard(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    guards.unguard_table(editor, TABLE)


class Migration(migrations.Migration):
    dependencies = [
        ("estimates", "0017_adopted_order"),
        ("jobs", "0014_own_hours"),
    ]

    operations = [
        migrations.CreateModel(
            name="DayForecast",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("on", models.DateField(help_text="The shop's day.")),
                ("made_at", models.DateTimeField()),
                ("planned_on", models.DateField(help_text="Ready by the plan, every operation taking just its hours.")),
                ("even_on", models.DateField(null=True)),
                ("safe_on", models.DateField(null=True)),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="day_forecasts", to="jobs.job"
                    ),
                ),
            ],
            options={
                "ordering": ["job", "on"],
                "constraints": [
                    models.UniqueConstraint(fields=("job", "on"), name="day_forecast_once_a_day"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("even_on__isnull", True), ("safe_on__isnull", True)),
                            ("safe_on__gte", models.F("even_on")),
                            _connector="OR",
                        ),
                        name="day_forecast_whole",
                    ),
                ],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
