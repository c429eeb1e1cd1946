"""The search for a better order of work: one row a shop."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("estimates", "0019_length_of_member"),
        ("jobs", "0014_own_hours"),
    ]

    operations = [
        migrations.CreateModel(
            name="OrderSearch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "asked_at",
                    models.DateTimeField(help_text="A manager asked for a search that has not begun.", null=True),
                ),
                ("claim", models.UUIDField(null=True)),
                ("claimed_until", models.DateTimeField(null=True)),
                (
                    "mark",
                    models.CharField(
                        blank=True, help_text="The plan searched from; empty: search again.", max_length=64
                    ),
                ),
                ("found_at", models.DateTimeField(help_text="When the plan searched from was read.", null=True)),
                (
                    "is_polished",
                    models.BooleanField(default=False, help_text="The longer search that follows the first is over."),
                ),
                ("refusal", models.CharField(blank=True, help_text="Why the shop cannot be planned.", max_length=300)),
                ("version", models.PositiveIntegerField(default=0, help_text="Another number for each order stored.")),
                ("turns", models.JSONField(default=list)),
                ("coaches", models.JSONField(default=list)),
                ("late_before", models.DurationField(null=True)),
                ("late_after", models.DurationField(null=True)),
                ("first_gain", models.FloatField(default=0.0)),
                ("gain", models.FloatField(default=0.0)),
                ("schedules", models.PositiveIntegerField(default=0, help_text="Plans tried.")),
                ("seconds", models.FloatField(default=0.0, help_text="Searched for.")),
                (
                    "shop",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="order_search", to="jobs.shop"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("claim__isnull", True), ("claimed_until__isnull", True)),
                            models.Q(("claim__isnull", False), ("claimed_until__isnull", False)),
                            _connector="OR",
                        ),
                        name="order_search_claim_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("is_polished", False), ("found_at__isnull", False), _connector="OR"),
                        name="order_search_found_before_polished",
                    ),
                ],
            },
        ),
    ]
