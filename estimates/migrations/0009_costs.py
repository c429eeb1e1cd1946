"""What lines cost the shop, kept beside offers and revisions; the database refuses to change it."""

from importlib import import_module

import django.db.models.deletion
from django.db import migrations, models

guards = import_module("jobs.migrations.0002_guard_records")
TABLES = ("estimates_offercosts", "estimates_revisioncosts")


def guard(apps, editor):
    for table in TABLES:
        guards.guard_table(editor, table)


def unguard(apps, editor):
    for table in TABLES:
        guards.unguard_table(editor, table)


class Migration(migrations.Migration):
    dependencies = [
        ("estimates", "0008_hours_accepted"),
        ("jobs", "0013_remedies_adjusted"),
    ]

    operations = [
        migrations.CreateModel(
            name="OfferCosts",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("content", models.JSONField()),
            ],
            options={
                "verbose_name_plural": "offer costs",
            },
        ),
        migrations.CreateModel(
            name="RevisionCosts",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("content", models.JSONField()),
            ],
            options={
                "verbose_name_plural": "revision costs",
            },
        ),
        migrations.AddField(
            model_name="rates",
            name="labour_cost_usd_per_hour",
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=8, null=True),
        ),
        migrations.AddConstraint(
            model_name="rates",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("labour_cost_usd_per_hour__isnull", True), ("labour_cost_usd_per_hour__gte", 0), _connector="OR"
                ),
                name="rates_labour_cost_real",
            ),
        ),
        migrations.AddField(
            model_name="offercosts",
            name="offer",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="costs", to="estimates.offer"
            ),
        ),
        migrations.AddField(
            model_name="revisioncosts",
            name="revision",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="costs", to="estimates.revision"
            ),
        ),
        migrations.RunPython(guard, unguard),
    ]
