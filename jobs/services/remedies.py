"""Which remedies stand beside each other for a finding: suggested, picked when it is posted, adjusted afterwards."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Q

from jobs import kinds
from jobs.calc.faces import Place
from jobs.calc.leaving import left_words
from jobs.calc.moisture.verdict import Verdict
from jobs.errors import AlreadyDecided, JobError, NotNow, Stale
from jobs.journal import record
from jobs.models import (
    ApprovalRequest,
    Decision,
    Finding,
    Job,
    Person,
    Remedy,
    RemedyMatch,
    RemedyMaterial,
    Skill,
    StandardRemedy,
)
from jobs.services.drying import limits_of
from jobs.services.verdicts import Evidence, judge_finding, read_stations

# More than the recommended one and two others to compare it with would only confuse.
MOST_CHOICES = 3


@dataclass(frozen=True)
class OwnMaterial:
    name: str
    quantity: Decimal
    unit_cost_usd: Decimal


@dataclass(frozen=True)
class OwnRemedy:
    """A remedy in a person's own words."""

    words: str
    hours: float
    skill: Skill
    wait_hours: float = 0.0
    materials: tuple[OwnMaterial, ...] = ()


Way = StandardRemedy | OwnRemedy


@dataclass(frozen=True)
class Fits:
    """The shop's remedies that fit what was found, the closest fit first, and what leaving it means.

    measure_first: what to measure, in a sentence, where the evidence says nothing yet for want of it; else empty.
    """

    remedies: tuple[StandardRemedy, ...]
    left_words: str
    measure_first: str = ""

    @property
    def suggested(self) -> tuple[StandardRemedy, ...]:
        """Those that are offered if nobody picks."""
        return self.remedies[:MOST_CHOICES]

    @property
    def signature(self) -> str:
        return signature_of(self.remedies)


def fitting_remedies(finding: Finding) -> list[StandardRemedy]:
    """The shop's remedies that fit the finding's kind, verdict, part and face, the closest fit first."""
    matches = RemedyMatch.objects.filter(
        Q(kind__in=["", finding.kind]),
        Q(verdict__in=["", finding.standing_verdict.value]),
        Q(member__in=["", finding.member]),
        Q(face__in=["", finding.face]),
        standard__shop=finding.job.shop,
        standard__is_active=True,
    ).select_related("standard")
    closest: dict[int, tuple[int, StandardRemedy]] = {}
    for match in matches:
        said = sum(bool(each) for each in (match.kind, match.verdict, match.member, match.face))
        known = closest.get(match.standard_id, (0, match.standard))
        closest[match.standard_id] = max((said, match.standard), known, key=_fit)
    return [standard for _, standard in sorted(closest.values(), key=lambda found: (-found[0], found[1].pk))]


def fits_at(job: Job, *, kind: str, face: str, evidence: Evidence, place: Place | None, now: datetime) -> Fits:
    """What would fit a finding before it is posted. Without its place, the stations there say nothing yet."""
    given = {"job": job, "kind": kind, "face": face, "posted_at": now, **vars(evidence)}
    if place:
        measures = {name: getattr(place, name) for name in ("left_mm", "top_mm", "width_mm", "height_mm")}
        finding, stations = Finding(**given, **measures), read_stations(job)
    else:
        finding, stations = Finding(**given), []
    judgement = judge_finding(finding, stations, limits_of(job.shop))
    finding.verdict = judgement.verdict.value
    is_open = judgement.verdict is Verdict.OPEN and judgement.missing and _has_any(finding)
    return Fits(tuple(fitting_remedies(finding)), left_words(kind), judgement.next_step if is_open else "")


def _has_any(finding: Finding) -> bool:
    """Whether the shop has a remedy for this kind of damage at all, so that evidence may bring one up."""
    matches = RemedyMatch.objects.filter(kind__in=["", finding.kind], standard__is_active=True)
    return matches.filter(standard__shop=finding.job.shop).exists()


def signature_of(remedies: Sequence[StandardRemedy]) -> str:
    """Which remedies were shown, in a form that goes through a page and back."""
    return ",".join(str(each.pk) for each in remedies) or "none"


def choose_ways(finding: Finding, first: Way | None, beside: Sequence[StandardRemedy] | None) -> list[Way]:
    """The remedies to offer, the recommended one first: what was picked, and what fits where nothing was picked.

    Raises JobError where neither names a remedy, or too many do.
    """
    fits = fitting_remedies(finding) if first is None or beside is None else []
    first = first or next(iter(beside or fits), None)
    if first is None:
        raise JobError("None of the shop's remedies fits this by itself. Choose one, or describe your own.")
    others = [each for each in (fits if beside is None else beside) if each != first]
    ways = [first, *others]
    if beside is None:
        return ways[:MOST_CHOICES]
    _check_ways(finding, ways)
    return ways


def write_ways(finding: Finding, ways: Sequence[Way]) -> list[Remedy]:
    """Write the remedies of a finding that has none standing. Runs inside the caller's transaction."""
    return [_write_way(finding, way, position) for position, way in enumerate(ways, start=1)]


def ways_of(finding: Finding) -> list[Way]:
    """The remedies that hold now, as they could be picked again."""
    return [_way(remedy) for remedy in finding.standing_remedies]


def remedies_version(finding: Finding) -> int:
    """Which set of remedies holds now: changes with every adjustment, and with nothing else."""
    return max((remedy.pk for remedy in finding.standing_remedies), default=0)


def awaits_offer(finding: Finding) -> bool:
    """Whether the remedies that hold now are still to be put to the owner, by the rows as they are now."""
    if finding.is_booked or finding.job.collected_at:
        return False
    return not ApprovalRequest.objects.filter(finding=finding, remedy__dropped_at__isnull=True).exists()


def why_not_adjust(finding: Finding, by: Person) -> str:
    """Why this person cannot adjust the remedies now, in words; empty where nothing stands against it."""
    if finding.is_booked:
        return "This was agreed when the coach was booked in."
    if finding.job.collected_at:
        return "The coach has been handed back."
    requests = list(finding.requests.all())
    if any(hasattr(request, "decision") for request in requests):
        return "The owner has answered. What was agreed stays as it was offered."
    if requests and not by.is_manager:
        return "The owner has been asked. A manager changes the proposal from here on."
    return ""


@transaction.atomic
def adjust_remedies(
    *, finding_id: int, ways: Sequence[Way], seen_version: int, reason: str, by: Person, now: datetime
) -> list[Remedy]:
    """Put other remedies in the place of those that hold, the recommended one first, and take the open question back.

    seen_version: `remedies_version` as it was on the screen. The same remedies again have price and days worked out
    anew. What was offered before stays as it was. Raises AlreadyDecided once the owner has answered, Stale if somebody
    else changed the remedies or just asked the owner, NotNow if the coach is gone or the person may not, JobError
    without a reason or for remedies that cannot stand beside each other.
    After commit: price and days are worked out and the owner is told what changed and why.
    """
    asked = _lock_question(finding_id)
    finding = Finding.objects.select_for_update(of=("self",)).select_related("job__shop").get(pk=finding_id)
    if Decision.objects.filter(request__finding=finding).exists():
        raise AlreadyDecided("The owner has answered meanwhile. What was agreed stays as it was offered.")
    if trouble := why_not_adjust(finding, by):
        raise NotNow(trouble)
    if remedies_version(finding) != seen_version or finding.requests.open().first() != asked:
        raise Stale("Somebody changed these remedies after you opened the page. Please read them again.")
    if not reason.strip():
        raise JobError("Say why, in a sentence.")
    _check_ways(finding, ways)
    before = finding.standing_remedies
    if asked:
        asked.closed_at = now
        asked.save(update_fields=["closed_at"])
    finding.remedies.standing().update(dropped_at=now)
    written = write_ways(finding, ways)
    data = {
        "finding": finding.pk,
        "number": finding.number,
        "before": [remedy.name for remedy in before],
        "after": [remedy.name for remedy in written],
        "reason": reason.strip(),
        "request": asked.pk if asked else None,
    }
    record(finding.job, kinds.REMEDIES_ADJUSTED, now=now, person=by, data=data)
    return written


def _lock_question(finding_id: int) -> ApprovalRequest | None:
    """The open question, locked before its finding, in the order in which an answer locks them."""
    open_ones = ApprovalRequest.objects.select_for_update(of=("self",)).open()
    return open_ones.filter(finding_id=finding_id).first()


def _check_ways(finding: Finding, ways: Sequence[Way]) -> None:
    standards = [way for way in ways if isinstance(way, StandardRemedy)]
    if not ways:
        raise JobError("Offer at least one remedy.")
    if len(ways) > MOST_CHOICES:
        raise JobError(f"At most {MOST_CHOICES} remedies beside each other; more would only confuse.")
    if len({each.pk for each in standards}) < len(standards):
        raise JobError("The same remedy stands there twice.")
    if len(ways) - len(standards) > 1:
        raise JobError("One remedy in own words is enough.")
    kept = {remedy.standard_id for remedy in finding.standing_remedies}
    for each in standards:
        if each.shop_id != finding.job.shop_id or not (each.is_active or each.pk in kept):
            raise JobError(f"“{each.name}” is not in the shop's catalogue any more.")


def _write_way(finding: Finding, way: Way, position: int) -> Remedy:
    if isinstance(way, StandardRemedy):
        return Remedy.objects.create(finding=finding, position=position, standard=way)
    own = Remedy.objects.create(
        finding=finding,
        position=position,
        own_words=way.words,
        own_hours=way.hours,
        own_skill=way.skill,
        own_wait_hours=way.wait_hours,
    )
    RemedyMaterial.objects.bulk_create(
        RemedyMaterial(remedy=own, name=item.name, quantity=item.quantity, unit_cost_usd=item.unit_cost_usd)
        for item in way.materials
    )
    return own


def _way(remedy: Remedy) -> Way:
    if remedy.standard:
        return remedy.standard
    if remedy.own_skill is None or remedy.own_hours is None:
        raise ValueError(f"{remedy} is neither of the catalogue nor in own words")
    materials = sorted(remedy.materials.all(), key=lambda item: item.pk)
    return OwnRemedy(
        words=remedy.own_words,
        hours=remedy.own_hours,
        skill=remedy.own_skill,
        wait_hours=remedy.own_wait_hours,
        materials=tuple(OwnMaterial(item.name, item.quantity, item.unit_cost_usd) for item in materials),
    )


def _fit(found: tuple[int, StandardRemedy]) -> int:
    return found[0]
