"""The change approval: one question to the owner, with all that is needed to answer it or to prove the answer."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.template.loader import render_to_string

from estimates import kinds
from estimates.calc.money import PriceLine
from estimates.models import OfferedChoice
from estimates.papers.answers import Asked, read_asked
from estimates.pricing import lines_from_json
from jobs import kinds as job_kinds
from jobs.models import Decision, Job, JournalEntry
from jobs.papers.parts import evidence_rows, head_of
from jobs.papers.rendering import as_pdf


@dataclass(frozen=True)
class PricedChoice:
    """A choice as it was offered, with its lines and totals."""

    offered: OfferedChoice
    lines: tuple[PriceLine, ...]
    totals: dict[str, Decimal]
    is_chosen: bool


def render_change(job: Job, request_id: int, *, now: datetime) -> bytes:
    """The change approval of this question. Raises LookupError if the job has none such, or it was taken back."""
    return as_pdf(render_to_string("pdf/change_approval.html", read_change(job, request_id, now=now)))


def read_change(job: Job, request_id: int, *, now: datetime) -> dict[str, Any]:
    """All that the change approval prints. Raises LookupError as render_change does."""
    asked = next((each for each in read_asked(job) if each.request.pk == request_id), None)
    if asked is None or asked.offer is None:
        raise LookupError(f"{job} has no question {request_id} to print")
    decision = asked.decision
    settled = _entry_of(decision, kinds.SCOPE_SETTLED)
    return head_of(job, now=now) | {
        "asked": asked,
        "evidence": evidence_rows(asked.finding),
        "choices": _choices(asked),
        "decided": _entry_of(decision, job_kinds.OWNER_DECIDED),
        "settled_total_usd": Decimal(settled.data["total_usd"]) if settled else None,
        "settled_revision": settled.data["revision"] if settled else None,
        "before": job.revisions.order_by("number").last() if decision is None else None,
        "is_signed_by_hand": decision is None or decision.channel == Decision.Channel.IN_PERSON,
    }


def _choices(asked: Asked) -> list[PricedChoice]:
    chosen = asked.chosen
    return [_priced(asked, each, is_chosen=each == chosen) for each in asked.choices]


def _priced(asked: Asked, offered: OfferedChoice, *, is_chosen: bool) -> PricedChoice:
    if asked.offer is None:
        raise LookupError(f"{asked.request} has no offer")
    kept = asked.offer.choice(offered.remedy_id)
    return PricedChoice(
        offered=offered,
        lines=lines_from_json(kept["lines"]),
        totals={name: Decimal(amount) for name, amount in kept["totals"].items()},
        is_chosen=is_chosen,
    )


def _entry_of(decision: Decision | None, kind: str) -> JournalEntry | None:
    """The journal's entry of this kind about the decision."""
    if decision is None:
        return None
    entries = decision.request.finding.job.entries.filter(kind=kind).select_related("person")
    return next((each for each in entries if each.data.get("decision") == decision.pk), None)
