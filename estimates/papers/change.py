"""The change approval: one question to the owner, with all that is needed to answer it or to prove the answer."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import partial
from typing import Any

from django.template.loader import render_to_string

from estimates import kinds
from estimates.billing import total_with
from estimates.calc.adding_up import apart_words
from estimates.calc.money import PriceLine
from estimates.models import OfferedChoice
from estimates.papers.answers import Asked, read_asked
from estimates.pricing import lines_from_json
from jobs import kinds as job_kinds
from jobs.models import Decision, Finding, Job, JournalEntry
from jobs.papers.parts import PaperPhoto, evidence_rows, head_of, paper_photo, stored_bytes
from jobs.papers.rendering import as_pdf

# Small renditions, side by side in one row: enough to know the place again, and no load for the machine.
MOST_PHOTOS = 4


@dataclass(frozen=True)
class Reckoning:
    """What the owner pays for the whole job before and after this change [USD, tax included]: before + change = after.

    The change is the price offered, unless a discount or another payer has its part in it.
    """

    before_usd: Decimal
    after_usd: Decimal

    @property
    def change_usd(self) -> Decimal:
        return self.after_usd - self.before_usd


@dataclass(frozen=True)
class PricedChoice:
    """A choice as it was offered, with its lines and totals, and what it does to the whole while it can be chosen."""

    offered: OfferedChoice
    lines: tuple[PriceLine, ...]
    totals: dict[str, Decimal]
    is_chosen: bool
    reckoning: Reckoning | None

    @property
    def apart(self) -> str:
        """Why what was agreed and the price offered do not add up to what is paid then, in words."""
        if self.reckoning is None:
            return ""
        return apart_words(self.reckoning.after_usd, [self.reckoning.before_usd, self.offered.total_usd])


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
        "photos": _photos(asked.finding),
        "choices": _choices(asked, job),
        "decided": _entry_of(decision, job_kinds.OWNER_DECIDED),
        "settled": _settled(job, settled, is_yes=asked.chosen is not None) if settled else None,
        "settled_revision": settled.data["revision"] if settled else None,
        "is_signed_by_hand": decision is None or decision.channel == Decision.Channel.IN_PERSON,
    }


def _photos(finding: Finding) -> list[PaperPhoto]:
    """The first few, as the small renditions stand stored: nothing is decoded."""
    return [
        paper_photo(each, finding, partial(stored_bytes, each.small))
        for each in finding.photos.order_by("position")[:MOST_PHOTOS]
    ]


def _settled(job: Job, settled: JournalEntry, *, is_yes: bool) -> Reckoning:
    """Read from the revisions that were kept: a yes issued its own, a no left the one that held."""
    number = settled.data["revision"]
    before = job.revisions.get(number=number - 1 if is_yes else number)
    return Reckoning(before.total_usd, Decimal(settled.data["total_usd"]))


def _choices(asked: Asked, job: Job) -> list[PricedChoice]:
    chosen = asked.chosen
    current = job.revisions.order_by("number").last() if asked.decision is None else None
    before_usd = current.total_usd if current else None
    return [_priced(asked, each, job, before_usd, is_chosen=each == chosen) for each in asked.choices]


def _priced(
    asked: Asked, offered: OfferedChoice, job: Job, before_usd: Decimal | None, *, is_chosen: bool
) -> PricedChoice:
    if asked.offer is None:
        raise LookupError(f"{asked.request} has no offer")
    kept = asked.offer.choice(offered.remedy_id)
    added = kept | {"finding": asked.finding.pk}
    reckoning = Reckoning(before_usd, total_with(job, [added])) if before_usd is not None else None
    return PricedChoice(
        offered=offered,
        lines=lines_from_json(kept["lines"]),
        totals={name: Decimal(amount) for name, amount in kept["totals"].items()},
        is_chosen=is_chosen,
        reckoning=reckoning,
    )


def _entry_of(decision: Decision | None, kind: str) -> JournalEntry | None:
    """The journal's entry of this kind about the decision."""
    if decision is None:
        return None
    entries = decision.request.finding.job.entries.filter(kind=kind).select_related("person")
    return next((each for each in entries if each.data.get("decision") == decision.pk), None)
