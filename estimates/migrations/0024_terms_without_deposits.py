"""A deposit is a payment now and no term of the bill."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("estimates", "0023_payments")]

    operations = [
        migrations.RemoveConstraint(
            model_name="term",
            name="term_is_whole",
        ),
        migrations.AlterField(
            model_name="term",
            name="kind",
            field=models.CharField(choices=[("discount", "discount"), ("payer", "who pays")], max_length=8),
        ),
        migrations.AddConstraint(
            model_name="term",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("amount_usd__gt", 0),
                        ("amount_usd__isnull", False),
                        ("kind", "discount"),
                        ("payer", ""),
                        ("pct__isnull", True),
                    ),
                    models.Q(
                        ("amount_usd__isnull", True),
                        ("kind", "discount"),
                        ("payer", ""),
                        ("pct__gt", 0),
                        ("pct__isnull", False),
                        ("pct__lte", 100),
                    ),
                    models.Q(
                        ("amount_usd__isnull", True),
                        ("finding__isnull", False),
                        ("kind", "payer"),
                        ("payer__gt", ""),
                        ("pct__isnull", True),
                    ),
                    _connector="OR",
                ),
                name="term_is_whole",
            ),
        ),
    ]
