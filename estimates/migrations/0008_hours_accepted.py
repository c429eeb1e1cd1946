"""Hours taken over from the record; the database refuses to change what was taken over."""

from importlib import import_module

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

guards = import_module("jobs.migrations.0002_guard_records")


def guard(apps, editor):
    guards.guard_table(editor, "estimates_hoursaccepted")


def unguard(apps, editor):
    guards.unguard_table(editor, "estimates_hoursaccepted")


class Migration(migrations.Migration):
    dependencies = [
        ("estimates", "0007_catalogue_fields"),
        ("jobs", "0011_leak"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="HoursAccepted",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("recipe_key", models.CharField(max_length=240)),
                ("was_setup_hours", models.FloatField()),
                ("was_hours_per_unit", models.FloatField()),
                ("setup_hours", models.FloatField()),
                ("hours_per_unit", models.FloatField()),
                ("n", models.PositiveIntegerField()),
                ("words", models.CharField(max_length=400)),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "shop",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="hours_accepted", to="jobs.shop"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "hours accepted",
                "ordering": ["at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("hours_per_unit__gte", 0),
                            ("setup_hours__gte", 0),
                            models.Q(("setup_hours__gt", 0), ("hours_per_unit__gt", 0), _connector="OR"),
                        ),
                        name="hours_accepted_take_time",
                    ),
                    models.CheckConstraint(condition=models.Q(("n__gte", 1)), name="hours_accepted_on_a_record"),
                ],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
