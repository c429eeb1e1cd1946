"""Changes on the bill that travel in one message: what is still untold, and the figures that hold now."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Max

from estimates import kinds
from estimates.balances import read_paid
from estimates.models import Term
from jobs.body_plan import place_words
from jobs.models import Finding, Job, JournalEntry
from updates.compose.facts import ChangeFacts, TermsFacts
from updates.compose.frame import found_words
from updates.models import Update

# Long enough to agree two or three things at the desk in a row; planning value, no source.
GATHERED_FOR = timedelta(minutes=10)
PAYMENTS = (kinds.PAYMENT_TAKEN, kinds.PAYMENT_TAKEN_BACK, kinds.MONEY_GIVEN_BACK)
BILL_CHANGES = (kinds.TERMS_CHANGED, *PAYMENTS)


def untold_changes(job: Job, entry: JournalEntry) -> list[JournalEntry]:
    """The changes on the bill since the owner was last told of any, oldest first; none if this one was told."""
    told = job.updates.filter(family=Update.Family.TERMS).aggregate(last=Max("entry__number"))["last"] or 0
    if entry.number <= told:
        return []
    return list(job.entries.filter(kind__in=BILL_CHANGES, number__gt=told).order_by("number"))


def bill_facts(job: Job, untold: Sequence[JournalEntry]) -> TermsFacts | None:
    """None where nothing is left to tell: what was noted and taken back before anybody heard of it is no news."""
    standing = set(job.terms.standing().values_list("pk", flat=True))
    news = [each for each in untold if _is_news(each, untold, standing)]
    if not news:
        return None
    paid = read_paid(job, job.revisions.order_by("number").last())
    own = paid.owner
    insurer_usd = sum((each.total_usd for each in paid.balances if each.payer == "insurer"), Decimal("0.00"))
    return TermsFacts(
        changes=tuple(_change(job, each) for each in news),
        total_usd=own.total_usd,
        due_usd=own.due_usd,
        paid_usd=own.paid_usd,
        insurer_usd=insurer_usd,
        refund_usd=own.refund_usd,
    )


def _is_news(entry: JournalEntry, untold: Sequence[JournalEntry], standing: set[int]) -> bool:
    """Something that stands, or something told before that stands no more."""
    mates = [each for each in untold if _subject(each) == _subject(entry)]
    if _is_back(entry):
        return mates[0] == entry
    if entry.kind in PAYMENTS:
        return not any(map(_is_back, mates))
    return entry.data["term"] in standing


def _subject(entry: JournalEntry) -> tuple[bool, int]:
    """The payment or term that an entry is about (primary key)."""
    is_payment = entry.kind in PAYMENTS
    return is_payment, entry.data["payment" if is_payment else "term"]


def _is_back(entry: JournalEntry) -> bool:
    return entry.kind == kinds.PAYMENT_TAKEN_BACK or bool(entry.data.get("is_taken_back"))


def _change(job: Job, entry: JournalEntry) -> ChangeFacts:
    data: dict[str, Any] = entry.data
    if entry.kind in PAYMENTS:
        return ChangeFacts(
            kind="payment",
            words=data["words"],
            payer=data["payer"],
            amount_usd=Decimal(data["amount_usd"]),
            paid_on=date.fromisoformat(data["paid_on"]),
            way=data["way"],
            is_taken_back=_is_back(entry),
            is_given_back=data.get("is_given_back", False),
        )
    return ChangeFacts(
        kind=data["kind"] if data["kind"] in Term.Kind.values else "payment",
        words=data["words"],
        payer=data["payer"],
        about=_about(job, data["finding"]),
        amount_usd=Decimal(data["amount_usd"]) if data["amount_usd"] else None,
        pct=Decimal(data["pct"]) if data["pct"] else None,
        is_taken_back=_is_back(entry),
    )


def _about(job: Job, finding_id: int | None) -> str:
    if finding_id is None:
        return ""
    finding = Finding.objects.select_related("job__coach").filter(pk=finding_id, job=job).first()
    return found_words(finding.kind, place_words(finding)) if finding else ""
