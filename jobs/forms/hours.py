"""Correcting clocked hours, and noting what the work took."""

from datetime import datetime
from typing import Any

from django import forms

from jobs.errors import JobError
from jobs.fields import KeyField, LocalTimeField, NumberField
from jobs.models import WorkSpan
from jobs.services.clock import check_span


class SpanForm(forms.Form):
    """When somebody really was on an operation. An open span gets its end by this."""

    reason = forms.CharField(
        label="Why is it corrected?",
        max_length=200,
        help_text="Such as: forgot to clock off.",
        error_messages={"required": "Say why it is corrected."},
    )

    def __init__(self, *args: Any, span: WorkSpan, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.span, self.now = span, now
        zone = span.operation.job.shop.time_zone
        self.fields["started_at"] = LocalTimeField(label="Began", time_zone=zone, exact=span.started_at)
        self.fields["ended_at"] = LocalTimeField(label="Ended", time_zone=zone, exact=span.ended_at or now)
        self.order_fields(["started_at", "ended_at", "reason"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if "started_at" in cleaned and "ended_at" in cleaned:
            try:
                check_span(self.span, cleaned["started_at"], cleaned["ended_at"], now=self.now)
            except JobError as error:
                self.add_error("ended_at", str(error))
        return cleaned


class MaterialForm(forms.Form):
    """One material that an operation took. No price: that is the estimate's business."""

    key = KeyField()
    name = forms.CharField(
        label="Material", max_length=80, error_messages={"required": "Say what was used, such as lap sealant."}
    )
    quantity = NumberField(
        label="How much",
        min_value=0.001,
        max_value=100_000,
        error_messages={"required": "How much was it?", "invalid": "Write a number, such as 2.5."},
    )
    unit = forms.CharField(
        label="Of what",
        max_length=20,
        help_text="Such as tubes, ft, sheets.",
        error_messages={"required": "Tubes, feet, sheets?"},
    )
