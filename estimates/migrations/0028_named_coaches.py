"""Answers by the date the plan shows, with the coaches they move by name.

What the plan and the odds had worked out before is dropped; the next plan works it out anew.
"""

from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.utils import timezone


def drop_worked_out(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    for name in ("QuestionOutlook", "QuestionOdds", "JobAnswers"):
        apps.get_model("estimates", name).objects.using(schema_editor.connection.alias).all().delete()


class Migration(migrations.Migration):
    dependencies = [
        ("estimates", "0027_equipment_by_area"),
    ]

    operations = [
        migrations.RunPython(drop_worked_out, drop_worked_out),
        migrations.RenameField("questionoutlook", "ready_now_on", "ready_with_on"),
        migrations.AlterField(
            "questionoutlook",
            "ready_with_on",
            models.DateField(help_text="With the recommended remedy, answered at answer_at."),
        ),
        migrations.AddField(
            "questionoutlook",
            "answer_at",
            models.DateTimeField(default=timezone.now, help_text="When the plan counts on the answer."),
            preserve_default=False,
        ),
        migrations.AddField(
            "questionoutlook",
            "free_at",
            models.DateTimeField(default=timezone.now, help_text="The latest answer that leaves the coach's date."),
            preserve_default=False,
        ),
        migrations.AddField(
            "questionoutlook",
            "free_for_all_at",
            models.DateTimeField(default=timezone.now, help_text="The same with no other coach later either."),
            preserve_default=False,
        ),
        migrations.AddConstraint(
            "questionoutlook",
            models.CheckConstraint(
                condition=models.Q(
                    ("free_at__gte", models.F("free_for_all_at")), ("free_for_all_at__gte", models.F("answer_at"))
                ),
                name="outlook_times_in_order",
            ),
        ),
        migrations.RemoveField("questionodds", "others_later"),
        migrations.AddField("questionodds", "others", models.JSONField(default=list)),
    ]
