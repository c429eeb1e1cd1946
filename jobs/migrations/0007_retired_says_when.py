"""A reason to give a station up goes with its time: NULL made the older condition unknown, which passes."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0006_struck_readings")]

    operations = [
        migrations.RemoveConstraint(model_name="station", name="station_retired_later_says_why"),
        migrations.AddConstraint(
            model_name="station",
            constraint=models.CheckConstraint(
                condition=models.Q(retired_at__isnull=True, retired_because="")
                | (
                    models.Q(retired_at__isnull=False, retired_at__gte=models.F("marked_at"))
                    & ~models.Q(retired_because="")
                ),
                name="station_retired_later_says_why",
            ),
        ),
    ]
