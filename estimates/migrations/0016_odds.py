"""The odds of every coach's date, beside the plan's."""

from django.db import migrations, models
from django.db.models import F, Q


class Migration(migrations.Migration):
    dependencies = [("estimates", "0015_given_out")]

    operations = [
        migrations.AddField(
            model_name="shopplan",
            name="odds_at",
            field=models.DateTimeField(
                help_text="When the odds were worked out; null before the first time.", null=True
            ),
        ),
        migrations.AddField(
            model_name="jobforecast",
            name="even_on",
            field=models.DateField(
                help_text="Ready by then in half of the simulated courses.", null=True, verbose_name="even odds"
            ),
        ),
        migrations.AddField(
            model_name="jobforecast",
            name="safe_on",
            field=models.DateField(
                help_text="Ready by then in four of five simulated courses.", null=True, verbose_name="safe"
            ),
        ),
        migrations.AddConstraint(
            model_name="jobforecast",
            constraint=models.CheckConstraint(
                condition=Q(even_on__isnull=True, safe_on__isnull=True) | Q(safe_on__gte=F("even_on")),
                name="forecast_odds_whole",
            ),
        ),
    ]
