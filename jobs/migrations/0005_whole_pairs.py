"""A value has its number, a cavity both its measures: NULL made the older conditions unknown, which passes."""

from importlib import import_module

from django.db import migrations, models

readings = import_module("jobs.migrations.0004_guard_readings")


class Migration(migrations.Migration):
    dependencies = [("jobs", "0004_guard_readings")]

    operations = [
        # SQLite makes a table anew to change a constraint, and its triggers go with the old one.
        migrations.RunPython(readings.unguard, readings.guard),
        migrations.RemoveConstraint(model_name="reading", name="reading_value_or_beyond"),
        migrations.RemoveConstraint(model_name="readinground", name="round_cavity_real"),
        migrations.AddConstraint(
            model_name="reading",
            constraint=models.CheckConstraint(
                condition=models.Q(range="value", meter_pct__isnull=False, meter_pct__gte=0, meter_pct__lte=200)
                | models.Q(range__in=["low", "high"], meter_pct__isnull=True),
                name="reading_value_or_beyond",
            ),
        ),
        migrations.AddConstraint(
            model_name="readinground",
            constraint=models.CheckConstraint(
                condition=models.Q(cavity_temp_c__isnull=True, cavity_rh_pct__isnull=True)
                | models.Q(
                    cavity_temp_c__isnull=False,
                    cavity_rh_pct__isnull=False,
                    cavity_temp_c__gte=-20.0,
                    cavity_temp_c__lte=60.0,
                    cavity_rh_pct__gte=0,
                    cavity_rh_pct__lte=100,
                ),
                name="round_cavity_real",
            ),
        ),
        migrations.RunPython(readings.guard, readings.unguard),
    ]
