"""What open questions do to the dates: worked out anew with every plan, so nothing is carried over."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("estimates", "0009_costs"), ("jobs", "0011_leak")]

    operations = [
        migrations.DeleteModel(name="ReadyWithout"),
        migrations.CreateModel(
            name="QuestionOutlook",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("ready_without_on", models.DateField(help_text="If the owner says no.")),
                ("ready_now_on", models.DateField(help_text="With the recommended remedy, answered at once.")),
                ("days", models.JSONField(default=list)),
                (
                    "request",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="outlook",
                        to="jobs.approvalrequest",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="JobAnswers",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("ways", models.JSONField()),
                (
                    "job",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="answers", to="jobs.job"
                    ),
                ),
            ],
            options={"verbose_name_plural": "job answers"},
        ),
    ]
