"""Who worked on what from when to when, what it took, and from which step of the catalogue it came."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("jobs", "0009_go_ahead_limit"),
    ]

    operations = [
        migrations.CreateModel(
            name="MaterialUse",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.UUIDField(unique=True)),
                ("name", models.CharField(max_length=80)),
                ("quantity", models.FloatField()),
                ("unit", models.CharField(max_length=20)),
                ("noted_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["noted_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="WorkSpan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("started_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                ("mended_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["started_at", "pk"],
            },
        ),
        migrations.AddField(
            model_name="operation",
            name="recipe_key",
            field=models.CharField(blank=True, max_length=240),
        ),
        migrations.AddField(
            model_name="operation",
            name="units",
            field=models.FloatField(default=0),
        ),
        migrations.AddConstraint(
            model_name="operation",
            constraint=models.CheckConstraint(condition=models.Q(("units__gte", 0)), name="operation_units_real"),
        ),
        migrations.AddField(
            model_name="materialuse",
            name="noted_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="materialuse",
            name="operation",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="materials_used", to="jobs.operation"
            ),
        ),
        migrations.AddField(
            model_name="workspan",
            name="operation",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="spans", to="jobs.operation"
            ),
        ),
        migrations.AddField(
            model_name="workspan",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="spans", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddConstraint(
            model_name="materialuse",
            constraint=models.CheckConstraint(
                condition=models.Q(("quantity__gt", 0), ("quantity__lte", 100000)), name="material_use_quantity_real"
            ),
        ),
        migrations.AddConstraint(
            model_name="materialuse",
            constraint=models.CheckConstraint(
                condition=models.Q(models.Q(("name", ""), _negated=True), models.Q(("unit", ""), _negated=True)),
                name="material_use_says_what",
            ),
        ),
        migrations.AddConstraint(
            model_name="workspan",
            constraint=models.UniqueConstraint(
                condition=models.Q(("ended_at__isnull", True)), fields=("person",), name="work_span_one_open_a_person"
            ),
        ),
        migrations.AddConstraint(
            model_name="workspan",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("ended_at__isnull", True), ("ended_at__gte", models.F("started_at")), _connector="OR"
                ),
                name="work_span_ends_after_start",
            ),
        ),
    ]
