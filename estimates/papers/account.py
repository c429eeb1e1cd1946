"""The final account: what was done and what it costs, how the total came about, what was declined and redone."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.template.loader import render_to_string

from estimates import kinds
from estimates.balances import read_paid
from estimates.models import Revision, Term
from estimates.papers.answers import declined, read_asked
from estimates.sheet import read_sheet, without_news
from jobs.models import Job, Operation
from jobs.papers.parts import head_of
from jobs.papers.rendering import as_pdf


@dataclass(frozen=True)
class Settled:
    """One entry of the journal that settled the scope: what it was about and the total from then on."""

    entry_number: int
    at: datetime
    revision: int
    total_usd: Decimal
    finding_number: int | None  # None: at booking
    is_approved: bool
    term: str  # the discount or payer it was about, in words; empty for none


@dataclass(frozen=True)
class Redone:
    """Work that is done again. hours: all people's [h], as clocked once it is finished, as planned until then."""

    operation: Operation
    hours: float
    is_clocked: bool


def render_account(job: Job, *, now: datetime) -> bytes:
    """The account as things stand now: final once all agreed work is finished, and called so only then."""
    return as_pdf(render_to_string("pdf/account.html", read_account(job, now=now)))


def read_account(job: Job, *, now: datetime) -> dict[str, Any]:
    """All that the account prints; every figure comes from the kept revision and the journal."""
    revision = job.revisions.order_by("number").last()
    asked = read_asked(job)
    unfinished = _unfinished(job)
    settled = read_settled(job)
    return head_of(job, now=now) | {
        "revision": revision,
        "sheet": without_news(read_sheet(revision)) if revision else None,
        "terms": _terms(revision),
        "paid": read_paid(job, revision),
        "settled": settled,
        "is_whole": revision is None or (bool(settled) and settled[-1].total_usd == revision.total_usd),
        "answers": [each for each in asked if each.decision is not None],
        "open": [each for each in asked if each.is_open],
        "declined": declined(asked),
        "redone": _redone(job, now),
        "unfinished": unfinished,
        "is_final": revision is not None and unfinished == 0 and job.arrived_at is not None,
    }


def read_settled(job: Job) -> list[Settled]:
    """How the total came about, from the journal alone, oldest first."""
    numbers = dict(job.findings.values_list("pk", "number"))
    changed = job.entries.filter(kind=kinds.TERMS_CHANGED)
    terms = {each.data["term"]: f"{_kind_words(each.data['kind'])}: {each.data['words']}" for each in changed}
    return [
        Settled(
            entry_number=entry.number,
            at=entry.at,
            revision=entry.data["revision"],
            total_usd=Decimal(entry.data["total_usd"]),
            finding_number=numbers.get(entry.data["finding"]),
            is_approved=entry.data["is_approved"],
            term=terms.get(entry.data.get("term"), "") + (", taken back" if entry.data.get("is_taken_back") else ""),
        )
        for entry in job.entries.filter(kind=kinds.SCOPE_SETTLED).order_by("number")
    ]


def _terms(revision: Revision | None) -> list[str]:
    """What is agreed beside the work, as the revision keeps it, each in one line."""
    kept = revision.content.get("terms", []) if revision else []
    # A deposit stands among the payments; revisions of before have it among the terms as well.
    return [
        f"{_kind_words(each['kind']).capitalize()}{_figure(each)}: {each['words']}"
        for each in kept
        if each["kind"] in Term.Kind.values
    ]


def _kind_words(kind: str) -> str:
    return str(Term.Kind(kind).label) if kind in Term.Kind.values else kind


def _figure(term: dict[str, Any]) -> str:
    if term["amount_usd"] is not None:
        return f" of ${Decimal(term['amount_usd']):,.2f}"
    return f" of {Decimal(term['pct']).normalize():f} %" if term["pct"] is not None else ""


def _unfinished(job: Job) -> int:
    """How many pieces of agreed work are not finished: what the owner agreed to, not the steps and waits it takes."""
    return job.operations.unfinished().values("remedy").order_by().distinct().count()


def _redone(job: Job, now: datetime) -> list[Redone]:
    """Work done twice because the shop was not satisfied."""
    redone = job.operations.filter(redo_of__isnull=False).select_related("redo_of__hold_point", "remedy__finding")
    return [_redone_row(each, now) for each in redone.prefetch_related("spans").order_by("pk")]


def _redone_row(operation: Operation, now: datetime) -> Redone:
    clocked = sum(span.hours_until(now) for span in operation.spans.all())
    is_clocked = operation.finished_at is not None and clocked > 0
    return Redone(operation, clocked if is_clocked else operation.person_hours, is_clocked)
