"""Payments, kept in a table that the database guards; deposits become payments."""

import uuid
from importlib import import_module

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

guards = import_module("jobs.migrations.0002_guard_records")


def guard(apps, editor):
    guards.guard_table(editor, "estimates_payment")


def unguard(apps, editor):
    guards.unguard_table(editor, "estimates_payment")


def make_payments_of_deposits(apps, editor):
    """A deposit was kept as a term; how it was paid stands in its words alone."""
    term_model, payment_model = apps.get_model("estimates", "Term"), apps.get_model("estimates", "Payment")
    for term in term_model.objects.filter(kind="deposit").order_by("pk"):
        payment = payment_model.objects.create(
            job_id=term.job_id,
            payer=term.payer,
            amount_usd=term.amount_usd,
            way="other",
            paid_on=term.agreed_at.date(),
            words=term.words,
            taken_by_id=term.agreed_by_id,
            taken_at=term.agreed_at,
        )
        if term.taken_back_at:
            payment_model.objects.create(
                job_id=term.job_id,
                payer=term.payer,
                amount_usd=-term.amount_usd,
                way="other",
                paid_on=term.taken_back_at.date(),
                words="Deposit taken back",
                takes_back=payment,
                taken_by_id=term.agreed_by_id,
                taken_at=term.taken_back_at,
            )
        term.delete()


class Migration(migrations.Migration):
    dependencies = [
        ("estimates", "0022_equipment_needed"),
        ("jobs", "0016_equipment"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Payment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.UUIDField(default=uuid.uuid4, unique=True)),
                ("payer", models.CharField(choices=[("owner", "owner"), ("insurer", "insurer")], max_length=7)),
                ("amount_usd", models.DecimalField(decimal_places=2, max_digits=10)),
                (
                    "way",
                    models.CharField(
                        choices=[
                            ("cash", "cash"),
                            ("card", "card"),
                            ("transfer", "bank transfer"),
                            ("cheque", "cheque"),
                            ("other", "another way"),
                        ],
                        max_length=8,
                    ),
                ),
                ("paid_on", models.DateField()),
                ("words", models.CharField(blank=True, max_length=200)),
                ("taken_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.AddField(
            model_name="payment",
            name="job",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="payments", to="jobs.job"
            ),
        ),
        migrations.AddField(
            model_name="payment",
            name="taken_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="payment",
            name="takes_back",
            field=models.OneToOneField(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="taken_back_by_row",
                to="estimates.payment",
            ),
        ),
        migrations.AddConstraint(
            model_name="payment",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("amount_usd__gt", 0), ("takes_back__isnull", True)),
                    models.Q(
                        ("amount_usd__lt", 0), ("takes_back__isnull", False), models.Q(("words", ""), _negated=True)
                    ),
                    _connector="OR",
                ),
                name="payment_above_nought_or_taken_back",
            ),
        ),
        migrations.AddConstraint(
            model_name="payment",
            constraint=models.CheckConstraint(
                condition=models.Q(("payer__in", ["owner", "insurer"])), name="payment_payer_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="payment",
            constraint=models.CheckConstraint(
                condition=models.Q(("way__in", ["cash", "card", "transfer", "cheque", "other"])),
                name="payment_way_known",
            ),
        ),
        migrations.RunPython(guard, unguard),
        # Last: what it writes must not be pending when a table is changed.
        migrations.RunPython(make_payments_of_deposits, migrations.RunPython.noop),
    ]
