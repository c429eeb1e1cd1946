"""Money given back: a row of its own kind among the payments, below nought."""

from importlib import import_module

from django.db import migrations, models

guards = import_module("jobs.migrations.0002_guard_records")


def guard(apps, editor):
    guards.guard_table(editor, "estimates_payment")


def unguard(apps, editor):
    guards.unguard_table(editor, "estimates_payment")


class Migration(migrations.Migration):
    dependencies = [("estimates", "0024_terms_without_deposits")]

    operations = [
        # SQLite makes a table anew to change it, and its trigger goes with the old one.
        migrations.RunPython(unguard, guard),
        migrations.RemoveConstraint(model_name="payment", name="payment_above_nought_or_taken_back"),
        migrations.AddField(
            model_name="payment",
            name="is_given_back",
            field=models.BooleanField(default=False),
        ),
        migrations.AddConstraint(
            model_name="payment",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("amount_usd__gt", 0), ("is_given_back", False), ("takes_back__isnull", True)),
                    models.Q(("amount_usd__lt", 0), ("is_given_back", True), ("takes_back__isnull", True)),
                    models.Q(
                        ("amount_usd__lt", 0),
                        ("is_given_back", False),
                        ("takes_back__isnull", False),
                        models.Q(("words", ""), _negated=True),
                    ),
                    models.Q(
                        ("amount_usd__gt", 0),
                        ("is_given_back", True),
                        ("takes_back__isnull", False),
                        models.Q(("words", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="payment_sign_says_which_way",
            ),
        ),
        migrations.RunPython(guard, unguard),
    ]
