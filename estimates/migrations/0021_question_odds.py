"""What each open question does to the odds of its coach."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("estimates", "0020_better_order"),
        ("jobs", "0015_altitude_and_wet_bulb"),
    ]

    operations = [
        migrations.CreateModel(
            name="QuestionOdds",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("even_with_on", models.DateField()),
                ("safe_with_on", models.DateField()),
                ("even_without_on", models.DateField()),
                ("safe_without_on", models.DateField()),
                (
                    "others_later",
                    models.PositiveSmallIntegerField(help_text="Other coaches whose safe date a yes makes later."),
                ),
                (
                    "request",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="odds", to="jobs.approvalrequest"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "question odds",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("safe_with_on__gte", models.F("even_with_on")),
                            ("safe_without_on__gte", models.F("even_without_on")),
                        ),
                        name="question_odds_in_order",
                    )
                ],
            },
        ),
    ]
