"""The one bridge from rows to the words: what the composed messages are told."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Max

from estimates.balances import read_paid
from estimates.billing import agreed_apart
from estimates.models import JobForecast, Offer, OfferedChoice
from jobs import kinds
from jobs.body_plan import place_words
from jobs.models import ApprovalRequest, Decision, Finding, Job, JournalEntry, Owner, Shop, Station, StationForecast
from jobs.services.drying import limits_of
from updates.compose.facts import (
    BookingFacts,
    ChoiceFacts,
    Common,
    DecisionFacts,
    DryingFacts,
    FindingFacts,
    LeftFacts,
    OfferFacts,
    PromiseFacts,
    ReadyFacts,
)
from updates.compose.message import Message
from updates.models import Update

# After one reading a date rests on an assumed pace: no date for an owner yet.
PACED_READINGS = 2
HELD = {
    StationForecast.Outcome.RISING,
    StationForecast.Outcome.STALLED,
    StationForecast.Outcome.NEAR_EQUILIBRIUM,
}


def common_facts(job: Job, owner: Owner) -> Common:
    shop = job.shop
    return Common(
        owner_name=owner.name,
        coach_words=f"your {job.coach.year} {job.coach.get_body_display()}",
        shop_name=shop.name,
        shop_phone=shop.phone,
        shop_email=shop.email,
        locale=owner.locale,
        time_zone=shop.time_zone,
    )


def finding_facts(request: ApprovalRequest) -> tuple[FindingFacts, OfferFacts]:
    """A finding as it is put to the owner, at the offer of this request."""
    finding = request.finding
    offer = Offer.objects.get(sha256=request.offer_sha256)
    return (
        FindingFacts(
            kind=finding.kind,
            seen_words=finding.seen,
            place_words=place_words(finding),
            moisture_pct=finding.moisture_pct,
            probe_depth_mm=finding.probe_depth_mm,
            tap_sound=finding.tap_sound or None,
            look=finding.look or None,
            is_wet=finding.is_wet,
            units=finding.job.shop.units,
            limit_pct=limits_of(finding.job.shop).close_in_pct,
            verdict=finding.standing_verdict.value,
        ),
        OfferFacts(
            choices=tuple(map(_choice_facts, offer.offered())),
            ready_without_on=offer.ready_without_on,
            answer_by_at=request.answer_by_at,
            is_unsafe_to_leave=finding.is_unsafe_to_leave,
        ),
    )


def reasons_since_told(asked: JournalEntry) -> list[str]:
    """Why the proposal for this finding was changed since its owner was last told one; none if this is the first."""
    told = Update.objects.filter(
        job=asked.job, family=Update.Family.FINDING, entry__data__finding=asked.data["finding"], entry__lt=asked.pk
    ).aggregate(last=Max("entry__number"))["last"]
    if told is None:
        return []
    changes = asked.job.entries.filter(kind=kinds.REMEDIES_ADJUSTED, number__gt=told, number__lt=asked.number)
    return [entry.data["reason"] for entry in changes.order_by("number") if _is_about(entry, asked)]


def _is_about(entry: JournalEntry, other: JournalEntry) -> bool:
    return bool(entry.data["finding"] == other.data["finding"])


def _choice_facts(choice: OfferedChoice) -> ChoiceFacts:
    return ChoiceFacts(
        remedy_words=choice.words,
        total_usd=choice.total_usd,
        ready_with_on=choice.ready_with_on,
        hours=choice.hours or None,
        keeps=choice.keeps,
        warranty=choice.warranty,
    )


def decision_facts(decision: Decision, revision_number: int) -> DecisionFacts:
    """An owner's answer and what holds after it: that revision's total, the expected and the promised date."""
    request = decision.request
    job = request.finding.job
    promise, cost_usd = job.promise, _cost(decision)
    revisions = list(job.revisions.filter(number__lte=revision_number).order_by("number"))
    return DecisionFacts(
        is_approved=decision.is_approved,
        kind=request.finding.kind,
        place_words=place_words(request.finding),
        remedy_words=(decision.remedy or request.remedy).words,
        signed_by=decision.typed_name,
        is_unsafe_to_leave=request.finding.is_unsafe_to_leave,
        new_total_usd=revisions[-1].total_usd,
        expected_on=expected_on(job),
        promised_on=promise.ready_on if promise else None,
        is_go_ahead=decision.channel == Decision.Channel.GO_AHEAD,
        cost_usd=cost_usd,
        apart_words=agreed_apart(revisions[-2:], [cost_usd]) if decision.is_approved else "",
        undated_spots=Station.objects.in_use().undated().filter(job=job).count(),
    )


def _cost(decision: Decision) -> Decimal:
    """What the chosen remedy costs in all, tax included [USD]; nothing for a no."""
    if decision.remedy_id is None:
        return Decimal("0.00")
    offer = Offer.objects.get(sha256=decision.offer_sha256)
    return next(choice.total_usd for choice in offer.offered() if choice.remedy_id == decision.remedy_id)


def booking_facts(job: Job) -> BookingFacts:
    promise = job.promise
    booked = job.findings.filter(is_booked=True).order_by("number").prefetch_related("remedies__standard")
    return BookingFacts(
        work_words=tuple(f"{finding.standing_remedies[0].words} ({place_words(finding)})" for finding in booked),
        total_usd=job.revisions.get(number=1).total_usd,
        arrives_on=job.arrives_on,
        promised_on=promise.ready_on if promise else None,
    )


def promise_facts(data: dict[str, str | None]) -> PromiseFacts:
    """From the journal entry of a promise."""
    before = data["before"]
    return PromiseFacts(
        old_on=date.fromisoformat(before) if before else None,
        new_on=date.fromisoformat(str(data["ready_on"])),
        reason_words=str(data["reason"]),
    )


def ready_facts(job: Job) -> ReadyFacts:
    left = Finding.objects.filter(job=job, requests__decision__is_approved=False).order_by("number")
    own = read_paid(job, job.revisions.order_by("number").last()).owner
    return ReadyFacts(
        total_usd=own.total_usd,
        paid_usd=own.paid_usd,
        due_usd=own.due_usd,
        left=tuple(LeftFacts(each.kind, place_words(each), each.is_unsafe_to_leave) for each in left),
    )


def drying_facts(data: dict[str, Any], shop: Shop) -> DryingFacts | None:
    """From the journal entry of drying worked out; None while it says nothing to tell an owner."""
    stations: list[dict[str, Any]] = data["stations"]
    held = [each for each in stations if each["outcome"] in HELD]
    drying = [each for each in stations if each["outcome"] == StationForecast.Outcome.DATE]
    is_dry = not data["unread"] and all(each["outcome"] == StationForecast.Outcome.DRY for each in stations)
    is_paced = all(each["readings"] >= PACED_READINGS for each in drying)
    if not stations or not (held or is_dry or (drying and is_paced)):
        return None
    wettest = max(stations, key=_wetness)
    return DryingFacts(
        state="held" if held else "drying" if drying else "dry",
        spots=len(stations),
        wettest_pct=wettest["mc_pct"],
        limit_pct=wettest["limit_pct"],
        even_on=None if held else _last_day(drying, "dry_even_at", shop),
        safe_on=None if held else _last_day(drying, "dry_safe_at", shop),
        held_by=held[0]["outcome"] if held else "",
    )


def slowest_station(stations: list[dict[str, Any]]) -> int:
    """The number of the station whose chart tells the most: one that is held, else the last to be dry."""
    return int(
        max(stations, key=lambda each: (each["outcome"] in HELD, each["dry_even_at"] or "", _wetness(each)))["station"]
    )


def _wetness(station: dict[str, Any]) -> float:
    """For ordering: beyond the meter's wet end comes last, beyond its dry end first."""
    if station["mc_pct"] is None:
        return float("inf") if station["range"] == "high" else 0.0
    return float(station["mc_pct"]) - float(station["limit_pct"])


def _last_day(stations: list[dict[str, Any]], name: str, shop: Shop) -> date | None:
    """The day of the last of these moments on the shop's clock; None without one for each."""
    moments = [datetime.fromisoformat(each[name]) for each in stations if each[name]]
    return shop.local_date(max(moments)) if moments and len(moments) == len(stations) else None


def expected_on(job: Job) -> date | None:
    forecast = JobForecast.objects.filter(job=job).first()
    return forecast.expected_on if forecast else None


def message_from_json(stored: dict[str, Any]) -> Message:
    """A stored message as it was composed (JSON keeps tuples as lists)."""
    return Message(
        subject=stored["subject"],
        greeting=stored["greeting"],
        paragraphs=tuple(stored["paragraphs"]),
        rows=tuple((label, value) for label, value in stored["rows"]),
        action_words=stored["action_words"],
        closing=tuple(stored["closing"]),
    )
