"""A shop may say that it has none of a kind of equipment."""

from typing import Any

from django.db import migrations, models


def forget_none(apps: Any, _: Any) -> None:
    """Back to where a shop could not say so: of those kinds nobody has counted any."""
    apps.get_model("jobs", "Equipment").objects.filter(count=0).delete()


class Migration(migrations.Migration):
    dependencies = [("jobs", "0016_equipment")]

    operations = [
        migrations.RemoveConstraint(model_name="equipment", name="equipment_count_real"),
        migrations.RunPython(migrations.RunPython.noop, forget_none),
        migrations.AddConstraint(
            model_name="equipment",
            constraint=models.CheckConstraint(condition=models.Q(("count__lte", 200)), name="equipment_count_real"),
        ),
    ]
