"""The verdict on a finding: computed from its evidence, looked at anew when that grows, overruled by a person."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db import transaction

from jobs import kinds
from jobs.calc.leaving import is_never_safe
from jobs.calc.moisture.cautions import EvidenceCaution, cautions_for
from jobs.calc.moisture.evidence import STRUCTURAL
from jobs.calc.moisture.evidence import Evidence as MeasuredEvidence
from jobs.calc.moisture.limits import Limits
from jobs.calc.moisture.section import remaining_in_words
from jobs.calc.moisture.verdict import Judgement, Verdict, judge
from jobs.calc.moisture.weighing import close_in_limit_pct
from jobs.errors import JobError, NotNow
from jobs.journal import record
from jobs.models import Finding, Job, Person, Reading, Station
from jobs.models.finding import FindingKind
from jobs.services.drying import limit_for, limits_of, moisture_or_end


@dataclass(frozen=True)
class Evidence:
    """What was measured and seen at the place; every part may be missing."""

    moisture_pct: float | None = None
    probe_depth_mm: float | None = None
    tap_sound: str = ""
    look: str = ""
    is_wet: bool | None = None
    member: str = ""
    member_thickness_mm: float | None = None
    is_near_mains: bool = False
    is_near_gas: bool = False


@transaction.atomic
def note_evidence(*, finding_id: int, evidence: Evidence, by: Person, now: datetime) -> Finding:
    """Replace the evidence on a finding by what is known now; the journal keeps what stood there before.

    Nothing is written when nothing changed. Raises JobError if the probe went deeper than the member is thick,
    NotNow once the coach has been collected.
    """
    finding = _locked(finding_id)
    _check_not_collected(finding.job)
    before = {name: getattr(finding, name) for name in vars(evidence)}
    if before == vars(evidence):
        return finding
    check_probe(evidence)
    for name, value in vars(evidence).items():
        setattr(finding, name, value)
    finding.evidence_at = now
    # What was marked unsafe stays so: that mark is a person's.
    finding.is_unsafe_to_leave |= is_never_safe(finding.kind, is_near_mains=evidence.is_near_mains)
    finding.save(update_fields=[*vars(evidence), "evidence_at", "is_unsafe_to_leave"])
    data = {"finding": finding.pk, "number": finding.number, "before": before, "evidence": vars(evidence)}
    record(finding.job, kinds.EVIDENCE_NOTED, now=now, person=by, data=data)
    settle_verdicts(finding.job, [finding], now=now, by=by)
    return finding


@transaction.atomic
def overrule_verdict(*, finding_id: int, verdict: str, reason: str, by: Person, now: datetime) -> Finding:
    """A person's own verdict, with a reason; the computed one stays beside it. An empty verdict takes it back.

    Raises JobError without a reason, or for a word that is no verdict; NotNow once the coach has been collected.
    """
    finding = _locked(finding_id)
    _check_not_collected(finding.job)
    if not reason.strip():
        raise JobError("Say why, in a sentence.")
    if verdict and verdict not in set(Verdict) - {Verdict.OPEN}:
        raise JobError("Choose a verdict from the list.")
    finding.own_verdict, finding.own_verdict_reason = verdict, reason.strip() if verdict else ""
    finding.own_verdict_by, finding.own_verdict_at = (by, now) if verdict else (None, None)
    finding.save(update_fields=["own_verdict", "own_verdict_reason", "own_verdict_by", "own_verdict_at"])
    data = {
        "finding": finding.pk,
        "number": finding.number,
        "computed": finding.verdict,
        "chosen": verdict,
        "reason": reason.strip(),
    }
    record(finding.job, kinds.VERDICT_OVERRULED, now=now, person=by, data=data)
    return finding


def settle_verdicts(job: Job, findings: Iterable[Finding], *, now: datetime, by: Person | None = None) -> None:
    """Judge these findings of the job anew and keep what changed. Runs inside the caller's transaction."""
    limits = limits_of(job.shop)
    stations = read_stations(job)
    for finding in findings:
        verdict = judge_finding(finding, stations, limits).verdict.value
        if verdict == finding.verdict:
            continue
        data = {"finding": finding.pk, "number": finding.number, "before": finding.verdict, "verdict": verdict}
        finding.verdict = verdict
        finding.save(update_fields=["verdict"])
        record(job, kinds.VERDICT_REACHED, now=now, person=by, data=data)


def verdict_of(finding: Finding) -> str:
    """The verdict as it follows from the rows now."""
    return judge_finding(finding, read_stations(finding.job), limits_of(finding.job.shop)).verdict.value


def read_stations(job: Job) -> list[Station]:
    """The stations in use that have been read at least once."""
    return [each for each in job.stations.in_use().with_readings() if each.readings.all()]


def judge_finding(finding: Finding, stations: Sequence[Station], limits: Limits) -> Judgement:
    """The verdict on a finding from its own evidence and the latest readings of the stations at its place."""
    return judge(_measured(finding, stations, limits), limits, units=finding.job.shop.units)


def newer_readings(finding: Finding, stations: Iterable[Station]) -> list[Reading]:
    """The latest reading of each station at the place, unless the finding's own evidence was noted after it.

    A finding that says nothing of wetness itself leaves that to the stations, whenever they were read; one posted
    as wet insulation does say it, so that only what was read since can take it back.
    """
    latest = _latest(finding, stations)
    is_silent = finding.moisture_pct is None and finding.is_wet is None
    if is_silent and finding.kind != FindingKind.WET_INSULATION:
        return latest
    noted_at = finding.evidence_at or finding.posted_at
    return [each for each in latest if each.round.taken_at >= noted_at]


def _latest(finding: Finding, stations: Iterable[Station]) -> list[Reading]:
    return [list(each.readings.all())[-1] for each in stations_at(finding, stations)]


def is_probe_stale(finding: Finding, stations: Sequence[Station], limits: Limits) -> bool:
    """Whether what was probed while wet counts no more, so that it is to be probed again."""
    noted = finding.probe_depth_mm is not None or bool(finding.tap_sound)
    measured = _measured(finding, stations, limits)
    return noted and measured.probe_depth_mm is None and not measured.tap_sound


def stations_at(finding: Finding, stations: Iterable[Station]) -> list[Station]:
    """The stations that lie in the finding's place, or a hand's width from it."""
    return [each for each in stations if finding.place.holds(each.face, each.left_mm, each.top_mm)]


def cautions_at(finding: Finding, verdicts: Iterable[Verdict]) -> list[EvidenceCaution]:
    """The cautions of the computed and of a person's verdict: deciding otherwise makes nothing safe."""
    found = {
        caution.key: caution
        for verdict in sorted(verdicts)
        for caution in cautions_for(
            kind=finding.kind,
            member=finding.member,
            look=finding.look,
            verdict=verdict,
            area_m2=finding.place.area_m2,
            is_near_mains=finding.is_near_mains,
            is_near_gas=finding.is_near_gas,
            face=finding.face,
        )
    }
    return list(found.values())


def remaining_of(finding: Finding) -> str:
    """What is left of a framing member once the soft wood is gone, in words; empty where nothing is known of it."""
    depth_mm, thickness_mm = finding.probe_depth_mm, finding.member_thickness_mm
    if finding.member not in STRUCTURAL or not depth_mm or not thickness_mm:
        return ""
    return remaining_in_words(thickness_mm, depth_mm, units=finding.job.shop.units)


def check_probe(evidence: Evidence) -> None:
    """Raises JobError if the probe went deeper than the member is thick."""
    depth, thickness = evidence.probe_depth_mm, evidence.member_thickness_mm
    if depth is not None and thickness is not None and depth > thickness:
        raise JobError("The probe cannot go deeper than the member is thick. Check both lengths.")


def _measured(finding: Finding, stations: Sequence[Station], limits: Limits) -> MeasuredEvidence:
    """The evidence as it stands now: newer readings at the place come before the meter value on the finding.

    What was probed and tapped while the wood was wet counts for nothing once it is dry, for wet wood
    gives way that may be hard again; unless it was gone already, which no drying mends.
    """
    newer = newer_readings(finding, stations)
    given: dict[str, Any] = {
        "kind": finding.kind,
        "member": finding.member,
        "member_thickness_mm": finding.member_thickness_mm,
        "moisture_pct": finding.moisture_pct,
        "is_wet": finding.is_wet,
        "probe_depth_mm": finding.probe_depth_mm,
        "tap_sound": finding.tap_sound,
        "look": finding.look,
    }
    noted = MeasuredEvidence(**given)
    if not newer:
        since = [each for each in _latest(finding, stations) if each.round.taken_at >= finding.posted_at]
        return _with_last_readings(noted, since, limits)
    now_measured = replace(noted, **_from_stations(newer, limits))
    if not noted.member and all(limit_for(each.station, limits) == limits.panel_close_in_pct for each in newer):
        # Nobody noted the part, and only panels were read: they have their own limit.
        now_measured = replace(now_measured, member="inner_panel")
    limit_pct = close_in_limit_pct(now_measured, limits)
    if noted.moisture_pct is None:
        was_wet = noted.is_wet or _was_read_wet(finding, stations, limits)
    else:
        was_wet = noted.is_wet or noted.moisture_pct > limit_pct
    is_dry = not now_measured.is_out_of_range_high and (now_measured.moisture_pct or 0.0) <= limit_pct
    was_gone = judge(noted, limits, units=finding.job.shop.units).verdict == Verdict.ROTTED
    if was_wet and is_dry and not was_gone:
        return replace(now_measured, probe_depth_mm=None, tap_sound="")
    return now_measured


def _was_read_wet(finding: Finding, stations: Iterable[Station], limits: Limits) -> bool:
    """Whether a station at the place last read wet when the evidence was noted."""
    noted_at = finding.evidence_at or finding.posted_at
    for station in stations_at(finding, stations):
        before = [each for each in station.readings.all() if each.round.taken_at <= noted_at]
        if before and moisture_or_end(before[-1], limits) > limit_for(station, limits):
            return True
    return False


def _with_last_readings(noted: MeasuredEvidence, readings: Sequence[Reading], limits: Limits) -> MeasuredEvidence:
    """Noted without a meter value: what the stations last read since the finding was posted stands for it."""
    if noted.moisture_pct is not None or not readings:
        return noted
    return replace(noted, **_from_stations(readings, limits) | {"is_wet": noted.is_wet})


def _from_stations(latest: Sequence[Reading], limits: Limits) -> dict[str, Any]:
    """The wettest of them, measured against its own limit, speaks for the place, and for what it is made of."""
    wettest = max(latest, key=lambda each: moisture_or_end(each, limits) - limit_for(each.station, limits))
    return {
        "moisture_pct": moisture_or_end(wettest, limits),
        "is_out_of_range_high": any(each.range == Reading.Range.HIGH for each in latest),
        "is_wet": None,
    }


def _check_not_collected(job: Job) -> None:
    """What the papers say that went along with the coach stays as it stood then."""
    if job.collected_at:
        raise NotNow("This coach has been collected. What was found stands as it is.")


def _locked(finding_id: int) -> Finding:
    return Finding.objects.select_for_update(of=("self",)).select_related("job__shop", "job__coach").get(pk=finding_id)
