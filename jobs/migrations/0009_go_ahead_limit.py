"""A limit the owner gives in advance, and the number called for an answer by phone."""

from decimal import Decimal
from importlib import import_module

from django.db import migrations, models

choices = import_module("jobs.migrations.0008_remedies_side_by_side")


def note_missing_numbers(apps, editor):
    """Answers by phone from before numbers were kept."""
    apps.get_model("jobs", "Decision").objects.filter(channel="phone").update(phone="not noted")


class Migration(migrations.Migration):
    dependencies = [
        ("jobs", "0008_remedies_side_by_side"),
    ]

    operations = [
        migrations.RunPython(choices.unguard_decisions, choices.guard_decisions),
        migrations.RemoveConstraint(
            model_name="decision",
            name="decision_channel_known",
        ),
        migrations.AddField(
            model_name="decision",
            name="phone",
            field=models.CharField(blank=True, max_length=30),
        ),
        migrations.AddField(
            model_name="job",
            name="go_ahead_days",
            field=models.PositiveSmallIntegerField(default=0),
        ),
        migrations.AddField(
            model_name="job",
            name="go_ahead_usd",
            field=models.DecimalField(decimal_places=2, default=Decimal("0.00"), max_digits=10),
        ),
        migrations.AddField(
            model_name="shop",
            name="consent_rule",
            field=models.CharField(default="strictest", max_length=30),
        ),
        migrations.AlterField(
            model_name="decision",
            name="channel",
            field=models.CharField(
                choices=[
                    ("link", "by the link"),
                    ("in_person", "in person"),
                    ("phone", "by phone"),
                    ("go_ahead", "under the go-ahead limit"),
                ],
                max_length=10,
            ),
        ),
        migrations.RunPython(note_missing_numbers, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="decision",
            constraint=models.CheckConstraint(
                condition=models.Q(("channel", "phone"), ("phone", ""), _negated=True),
                name="decision_by_phone_has_number",
            ),
        ),
        migrations.AddConstraint(
            model_name="decision",
            constraint=models.CheckConstraint(
                condition=models.Q(("channel__in", ["link", "in_person", "phone", "go_ahead"])),
                name="decision_channel_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="job",
            constraint=models.CheckConstraint(
                condition=models.Q(("go_ahead_days__lte", 365), ("go_ahead_usd__gte", 0)), name="job_go_ahead_real"
            ),
        ),
        migrations.RunPython(choices.guard_decisions, choices.unguard_decisions),
    ]
