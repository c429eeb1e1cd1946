"""The manager's forms: what is agreed beside the work, and when the owner must be asked."""

import uuid
from decimal import Decimal
from typing import Any

from django import forms

from estimates.calc.consent_rules import STARTING_POINTS
from estimates.models import Payment, Term
from estimates.services.payments import NewPayment
from estimates.services.terms import NewTerm
from jobs.fields import HundredthsField, KeyField, MoneyField
from jobs.models import Finding, Job

BILLED = [("owner", "the owner"), ("insurer", "the insurer")]
WHOLE = "For the whole job"


class TermForm(forms.Form):
    """One of two: a discount, or who pays for a finding."""

    kind = forms.ChoiceField(
        label="What is agreed",
        choices=Term.Kind.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what is agreed."},
    )
    finding = forms.ModelChoiceField(
        Finding.objects.none(), label="For which finding", required=False, empty_label=WHOLE
    )
    amount_usd = MoneyField(label="Amount, $", max_digits=10, required=False)
    pct = HundredthsField(label="or percent", max_digits=5, max_value=100, required=False)
    payer = forms.ChoiceField(label="Who pays", choices=[("", "Choose"), *BILLED, ("shop", "the shop")], required=False)
    words = forms.CharField(label="Why", max_length=200, error_messages={"required": "Say why, in a few words."})

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["finding"].queryset = job.findings.order_by("number")  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        check = {"discount": self._check_discount, "payer": self._check_payer}
        if cleaned.get("kind") in check and not self.errors:
            check[cleaned["kind"]](cleaned)
        return cleaned

    def term(self) -> NewTerm:
        """What was agreed; only after is_valid(). What another kind would need is left aside."""
        given = self.cleaned_data
        kind = given["kind"]
        return NewTerm(
            kind=kind,
            words=given["words"],
            finding=given["finding"],
            payer=given["payer"] if kind != Term.Kind.DISCOUNT else "",
            amount_usd=given["amount_usd"] if kind != Term.Kind.PAYER else None,
            pct=given["pct"] if kind == Term.Kind.DISCOUNT else None,
        )

    def _check_discount(self, cleaned: dict[str, Any]) -> None:
        if (cleaned["amount_usd"] is None) == (cleaned["pct"] is None):
            self.add_error("amount_usd", "Give an amount or a percentage, one of them.")
        for name in ("amount_usd", "pct"):
            if cleaned.get(name) is not None and cleaned[name] <= 0:
                self.add_error(name, "A discount is more than nothing.")

    def _check_payer(self, cleaned: dict[str, Any]) -> None:
        if cleaned["finding"] is None:
            self.add_error("finding", "Choose the finding that somebody else pays for.")
        if not cleaned["payer"]:
            self.add_error("payer", "Choose who pays.")


class PaymentForm(forms.Form):
    """Money that came in: how much, from whom, how, on which day."""

    payment_key = KeyField(initial=uuid.uuid4)
    paid_usd = MoneyField(label="Amount, $", max_digits=10, error_messages={"required": "How much was paid?"})
    paid_by = forms.ChoiceField(
        label="Who paid", choices=[("owner", "the owner"), ("insurer", "the insurer")], initial="owner"
    )
    paid_on = forms.DateField(
        label="On which day",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"required": "On which day was it paid?", "invalid": "Pick a day."},
    )
    way = forms.ChoiceField(
        label="How",
        choices=Payment.Way.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose how it was paid."},
    )
    note = forms.CharField(label="Note", max_length=200, required=False, help_text="Such as the number of a receipt.")

    def clean_paid_usd(self) -> Decimal:
        paid_usd: Decimal = self.cleaned_data["paid_usd"]
        if paid_usd <= 0:
            raise forms.ValidationError("A payment is more than nothing.")
        return paid_usd

    def payment(self) -> NewPayment:
        """What came in; only after is_valid()."""
        given = self.cleaned_data
        return NewPayment(
            key=given["payment_key"],
            payer=given["paid_by"],
            amount_usd=given["paid_usd"],
            way=given["way"],
            paid_on=given["paid_on"],
            words=given["note"],
        )


class GivenBackForm(PaymentForm):
    """Money that went back: how much, to whom, how, on which day."""

    prefix = "given"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["paid_by"].label = "To whom"
        self.fields["paid_usd"].error_messages["required"] = "How much was given back?"
        self.fields["paid_on"].error_messages["required"] = "On which day was it given back?"
        self.fields["way"].error_messages["required"] = "Choose how it was given back."

    def clean_paid_usd(self) -> Decimal:
        given_usd: Decimal = self.cleaned_data["paid_usd"]
        if given_usd <= 0:
            raise forms.ValidationError("Money given back is more than nothing.")
        return given_usd


class PaymentBackForm(forms.Form):
    """Why a payment is taken back."""

    reason = forms.CharField(
        label="Why is it taken back?", max_length=200, error_messages={"required": "Say why it is taken back."}
    )


class ConsentRuleForm(forms.Form):
    """When added work needs a fresh yes: the strictest, or a starting point read from a law."""

    rule = forms.ChoiceField(
        label="The shop's rule",
        choices=[(point.key, point.label) for point in STARTING_POINTS],
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose a rule from the list."},
    )
