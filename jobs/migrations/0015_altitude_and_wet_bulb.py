"""How high the shop stands, and what the wet bulb showed on a round."""

from importlib import import_module

from django.db import migrations, models

guards = import_module("jobs.migrations.0002_guard_records")


def unguard_rounds(apps, editor):
    guards.unguard_table(editor, "jobs_readinground")


def guard_rounds(apps, editor):
    guards.guard_table(editor, "jobs_readinground")


class Migration(migrations.Migration):
    dependencies = [
        ("jobs", "0014_own_hours"),
    ]

    operations = [
        # SQLite makes a table anew to change it, and its trigger goes with the old one.
        migrations.RunPython(unguard_rounds, guard_rounds),
        migrations.AddField(
            model_name="readinground",
            name="wet_bulb_c",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="shop",
            name="altitude_m",
            field=models.FloatField(default=0.0),
        ),
        migrations.AddConstraint(
            model_name="readinground",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("wet_bulb_c__isnull", True),
                    models.Q(("wet_bulb_c__gte", 0), ("wet_bulb_c__lte", models.F("air_temp_c"))),
                    _connector="OR",
                ),
                name="round_wet_bulb_real",
            ),
        ),
        migrations.AddConstraint(
            model_name="shop",
            constraint=models.CheckConstraint(
                condition=models.Q(("altitude_m__gte", -450.0), ("altitude_m__lte", 4500.0)),
                name="shop_altitude_real",
            ),
        ),
        migrations.RunPython(guard_rounds, unguard_rounds),
    ]
