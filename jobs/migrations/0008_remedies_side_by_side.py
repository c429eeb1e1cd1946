"""Several remedies to choose from: matches, choices of a request, the remedy of a yes."""

from importlib import import_module

import django.db.models.deletion
from django.db import migrations, models

guards = import_module("jobs.migrations.0002_guard_records")


def unguard_decisions(apps, editor):
    guards.unguard_table(editor, "jobs_decision")


def guard_decisions(apps, editor):
    guards.guard_table(editor, "jobs_decision")


def name_the_remedy(apps, editor):
    """Until now the one remedy asked about was the only choice."""
    for request in apps.get_model("jobs", "ApprovalRequest").objects.all():
        request.choices.add(request.remedy_id)
    for decision in apps.get_model("jobs", "Decision").objects.filter(is_approved=True).select_related("request"):
        decision.remedy_id = decision.request.remedy_id
        decision.save(update_fields=["remedy"])


class Migration(migrations.Migration):
    dependencies = [
        ("jobs", "0007_retired_says_when"),
    ]

    operations = [
        # SQLite makes a table anew to change it, and its trigger goes with the old one.
        migrations.RunPython(unguard_decisions, guard_decisions),
        migrations.CreateModel(
            name="RemedyMatch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("wet_insulation", "wet insulation"),
                            ("stained_framing", "stained framing"),
                            ("rotten_framing", "rotten framing"),
                            ("loose_decking", "loose decking"),
                            ("loose_skin", "loose skin"),
                            ("failed_seal", "failed seal"),
                            ("exposed_wire", "exposed wire"),
                            ("mould", "mould"),
                            ("corrosion", "corrosion"),
                            ("other", "something else"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "verdict",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("wait_for_dry", "wait for dry"),
                            ("sound", "sound"),
                            ("stained_sound", "stained, sound"),
                            ("soft", "soft"),
                            ("rotted", "rotted"),
                            ("loose", "loose"),
                            ("exposed", "exposed"),
                            ("open", "not known yet"),
                        ],
                        max_length=16,
                    ),
                ),
                (
                    "member",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("roof_framing", "roof framing"),
                            ("wall_framing", "wall framing"),
                            ("floor_framing", "floor framing"),
                            ("sill", "sill (plate)"),
                            ("roof_decking", "roof decking"),
                            ("floor_decking", "floor decking"),
                            ("inner_panel", "inner panel"),
                            ("skin", "skin"),
                            ("insulation", "insulation"),
                            ("wiring", "wiring"),
                            ("other", "something else"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "face",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("roof", "roof"),
                            ("front", "front wall"),
                            ("rear", "rear wall"),
                            ("road_side", "road side wall"),
                            ("curb_side", "curb side wall"),
                            ("floor", "floor"),
                        ],
                        max_length=10,
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "remedy matches",
            },
        ),
        migrations.AlterModelOptions(
            name="remedy",
            options={"ordering": ["position"], "verbose_name_plural": "remedies"},
        ),
        migrations.AddField(
            model_name="approvalrequest",
            name="choices",
            field=models.ManyToManyField(related_name="+", to="jobs.remedy"),
        ),
        migrations.AddField(
            model_name="decision",
            name="remedy",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="jobs.remedy"
            ),
        ),
        migrations.AddField(
            model_name="remedy",
            name="position",
            field=models.PositiveSmallIntegerField(default=1),
        ),
        migrations.AddField(
            model_name="standardremedy",
            name="keeps",
            field=models.CharField(
                blank=True, help_text="What stays original, in words for the owner.", max_length=200
            ),
        ),
        migrations.AddField(
            model_name="standardremedy",
            name="warranty",
            field=models.CharField(blank=True, help_text="What the shop's warranty covers after it.", max_length=200),
        ),
        migrations.RunPython(name_the_remedy, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="decision",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("is_approved", True), ("remedy__isnull", False)),
                    models.Q(("is_approved", False), ("remedy__isnull", True)),
                    _connector="OR",
                ),
                name="decision_yes_names_remedy",
            ),
        ),
        migrations.AddConstraint(
            model_name="remedy",
            constraint=models.UniqueConstraint(fields=("finding", "position"), name="remedy_position_once"),
        ),
        migrations.AddConstraint(
            model_name="remedy",
            constraint=models.UniqueConstraint(
                condition=models.Q(("standard__isnull", False)),
                fields=("finding", "standard"),
                name="remedy_standard_once",
            ),
        ),
        migrations.AddField(
            model_name="remedymatch",
            name="standard",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="matches", to="jobs.standardremedy"
            ),
        ),
        migrations.AddConstraint(
            model_name="remedymatch",
            constraint=models.UniqueConstraint(
                fields=("standard", "kind", "verdict", "member", "face"), name="remedy_match_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="remedymatch",
            constraint=models.CheckConstraint(
                condition=models.Q(("face", ""), ("kind", ""), ("member", ""), ("verdict", ""), _negated=True),
                name="remedy_match_says_something",
            ),
        ),
        migrations.RunPython(guard_decisions, unguard_decisions),
    ]
