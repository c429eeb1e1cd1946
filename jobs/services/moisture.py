"""What people do about moisture: mark stations, walk a round, place blowers, set limits."""

import math
import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Max

from jobs import kinds
from jobs.calc.faces import TOLERANCE_MM, Face
from jobs.calc.moisture.limits import LIMITS
from jobs.errors import JobError, NotNow
from jobs.journal import record
from jobs.models import Job, Person, Placement, Reading, ReadingRound, ReadingStrike, Shop, ShopLimit, Station
from jobs.models.shop import ALTITUDE_M

# A phone's clock may run a little ahead of ours.
CLOCK_AHEAD = timedelta(minutes=5)


@dataclass(frozen=True)
class Air:
    """Temperature [C] and relative humidity [%].

    wet_bulb_c: where the humidity was worked out of it, as it was read [C]; temp_c is then the dry bulb.
    """

    temp_c: float
    rh_pct: float
    wet_bulb_c: float | None = None


@dataclass(frozen=True)
class NewReading:
    """What the meter showed at a station; meter_pct [%] is None beyond an end of its scale."""

    station_id: int
    range: str
    meter_pct: float | None = None


@transaction.atomic
def mark_station(
    *,
    job_id: int,
    key: uuid.UUID,
    face: str,
    left_mm: float,
    top_mm: float,
    layer: str,
    material: str,
    note: str,
    by: Person,
    now: datetime,
) -> Station:
    """Mark a spot to be read again and again, once however often it is sent. Its number follows the last.

    Raises NotNow if the coach is not at the shop, JobError if the spot lies off its face.
    """
    job = _open_job(job_id)
    if stored := Station.objects.filter(key=key).first():
        _check_same_job(stored.job_id, job, "station")
        return stored
    _check_at_shop(job)
    size = next(size for size in job.coach.faces() if size.face == Face(face))
    if not (0 <= left_mm <= size.width_mm + TOLERANCE_MM and 0 <= top_mm <= size.height_mm + TOLERANCE_MM):
        raise JobError("The spot lies off the coach. Check the two distances.")
    last = job.stations.aggregate(last=Max("number"))["last"]
    station = Station.objects.create(
        job=job,
        number=(last or 0) + 1,
        key=key,
        face=face,
        left_mm=left_mm,
        top_mm=top_mm,
        layer=layer,
        material=material,
        note=note.strip(),
        marked_by=by,
        marked_at=now,
    )
    record(
        job,
        kinds.STATION_MARKED,
        now=now,
        person=by,
        data={
            "station": station.number,
            "place": [face, left_mm, top_mm],
            "layer": layer,
            "material": material,
        },
    )
    return station


@transaction.atomic
def retire_station(*, station_id: int, because: str, by: Person, now: datetime) -> Station:
    """Stop reading a station, for a reason (RetiredBecause). What was read stays on record.

    After commit: drying is worked out without it.
    """
    station = Station.objects.select_for_update(of=("self",)).select_related("job").get(pk=station_id)
    if station.retired_at is None:
        station.retired_at, station.retired_because = now, because
        station.save(update_fields=["retired_at", "retired_because"])
        data = {"station": station.number, "because": because}
        record(station.job, kinds.STATION_RETIRED, now=now, person=by, data=data)
    return station


@transaction.atomic
def restore_station(*, station_id: int, by: Person, now: datetime) -> Station:
    """Read a station again. After commit: drying is worked out with it."""
    station = Station.objects.select_for_update(of=("self",)).select_related("job").get(pk=station_id)
    if station.retired_at:
        station.retired_at, station.retired_because = None, ""
        station.save(update_fields=["retired_at", "retired_because"])
        record(station.job, kinds.STATION_RESTORED, now=now, person=by, data={"station": station.number})
    return station


@transaction.atomic
def strike_reading(*, reading_id: int, reason: str, by: Person, now: datetime) -> ReadingStrike:
    """Strike a reading out, with a reason: it stays on record and counts no more. Raises JobError without one.

    After commit: drying and verdicts are worked out without it.
    """
    reading = Reading.objects.select_related("station__job", "round").get(pk=reading_id)
    job = _open_job(reading.station.job_id)
    if strike := ReadingStrike.objects.filter(reading=reading).first():
        return strike
    if not reason.strip():
        raise JobError("Say what was wrong with it.")
    strike = ReadingStrike.objects.create(reading=reading, reason=reason.strip(), struck_by=by, struck_at=now)
    data = {
        "station": reading.station.number,
        "taken_at": reading.round.taken_at.isoformat(),
        "reading": [reading.range, reading.meter_pct],
        "reason": strike.reason,
    }
    record(job, kinds.READING_STRUCK, now=now, person=by, data=data)
    return strike


@transaction.atomic
def take_round(
    *,
    job_id: int,
    key: uuid.UUID,
    taken_at: datetime,
    air: Air,
    cavity_air: Air | None,
    readings: Sequence[NewReading],
    by: Person,
    now: datetime,
    sure_of: Collection[int] = (),
) -> ReadingRound:
    """Store a round of readings with the air at the time, once however often it is sent.

    sure_of: the stations whose reading jumps more than wood hardly does, and was confirmed; the journal keeps them.

    Raises NotNow if the coach is not at the shop; JobError if nothing was read, the time lies before the
    coach came or after now, another round has the same time, or a station is not one of the job's.
    After commit: drying is worked out anew.
    """
    job = _open_job(job_id)
    if stored := ReadingRound.objects.filter(key=key).first():
        _check_same_job(stored.job_id, job, "round")
        return stored
    _check_at_shop(job)
    check_round_time(job, taken_at, now=now)
    if not readings:
        raise JobError("Nothing was read. Give at least one station a value.")
    numbers = dict(job.stations.in_use().values_list("pk", "number"))
    if not {each.station_id for each in readings} <= set(numbers):
        raise JobError("A station in this round is no longer read. Please open the round again.")
    taken = ReadingRound.objects.create(
        job=job,
        key=key,
        taken_at=to_the_minute(taken_at),
        taken_by=by,
        air_temp_c=air.temp_c,
        rh_pct=air.rh_pct,
        wet_bulb_c=air.wet_bulb_c,
        cavity_temp_c=cavity_air.temp_c if cavity_air else None,
        cavity_rh_pct=cavity_air.rh_pct if cavity_air else None,
    )
    Reading.objects.bulk_create(
        Reading(round=taken, station_id=each.station_id, range=each.range, meter_pct=each.meter_pct)
        for each in readings
    )
    record(
        job,
        kinds.ROUND_TAKEN,
        now=now,
        person=by,
        data={
            "round": taken.pk,
            "taken_at": taken.taken_at.isoformat(),
            "air": _known(air),
            "cavity_air": _known(cavity_air) if cavity_air else None,
            "readings": [[numbers[each.station_id], each.range, each.meter_pct] for each in readings],
        }
        | ({"sure_of": sorted(numbers[each] for each in sure_of)} if sure_of else {}),
    )
    return taken


def _known(air: Air) -> dict[str, float]:
    return {name: value for name, value in vars(air).items() if value is not None}


def check_round_time(job: Job, taken_at: datetime, *, now: datetime) -> None:
    """Raises JobError, in words, unless a round can have been taken on this job at that time."""
    taken_at = to_the_minute(taken_at)
    if job.arrived_at and taken_at < to_the_minute(job.arrived_at):
        raise JobError("That is before the coach came to the shop. Check date and time.")
    if taken_at > now + CLOCK_AHEAD:
        raise JobError("That is still to come. Check date and time.")
    if job.rounds.filter(taken_at=taken_at).exists():
        raise JobError("There is a round at that very minute already. Check the time, or look at that round first.")


def to_the_minute(at: datetime) -> datetime:
    return at.replace(second=0, microsecond=0)


@transaction.atomic
def place_equipment(
    *, job_id: int, key: uuid.UUID, kind: str, count: int, face: str, note: str, by: Person, now: datetime
) -> Placement:
    """Log blowers or dehumidifiers put to work, once however often it is sent. Raises NotNow off the shop."""
    job = _open_job(job_id)
    if stored := Placement.objects.filter(key=key).first():
        _check_same_job(stored.job_id, job, "entry")
        return stored
    _check_at_shop(job)
    placement = Placement.objects.create(
        job=job, key=key, kind=kind, count=count, face=face, note=note.strip(), placed_by=by, placed_at=now
    )
    data = {"placement": placement.pk, "words": placement.words, "face": face, "note": placement.note}
    record(job, kinds.EQUIPMENT_PLACED, now=now, person=by, data=data)
    return placement


@transaction.atomic
def take_equipment_away(*, placement_id: int, by: Person, now: datetime) -> Placement:
    """Log that it no longer runs there. What ran until then stays on record."""
    placement = Placement.objects.select_for_update(of=("self",)).select_related("job").get(pk=placement_id)
    if placement.taken_away_at is None:
        placement.taken_away_at = now
        placement.save(update_fields=["taken_away_at"])
        data = {"placement": placement.pk, "words": placement.words}
        record(placement.job, kinds.EQUIPMENT_TAKEN_AWAY, now=now, person=by, data=data)
    return placement


@transaction.atomic
def set_limits(*, shop: Shop, values: Mapping[str, float], by: Person, now: datetime) -> None:
    """Keep the shop's own limits; one at its default is not kept. Raises JobError outside a limit's range.

    After commit: drying and verdicts of every open coach with readings or findings are worked out anew.
    """
    if not values["soft_from_mm"] < values["replace_beyond_mm"]:
        raise JobError("What sound wood lets the awl in must be less than what is cut out.")
    for limit in LIMITS:
        value = values[limit.key]
        if not limit.lowest <= value <= limit.highest:
            raise JobError(f"{limit.name} must lie between {limit.lowest:g} and {limit.highest:g}.")
        if math.isclose(value, limit.default):
            ShopLimit.objects.filter(shop=shop, key=limit.key).delete()
        else:
            ShopLimit.objects.update_or_create(shop=shop, key=limit.key, defaults={"value": value})
    for job in Job.objects.open().filter(shop=shop, arrived_at__isnull=False).order_by("pk"):
        record(job, kinds.LIMITS_CHANGED, now=now, person=by, data={"limits": dict(values)})


@transaction.atomic
def set_altitude(*, shop: Shop, altitude_m: float) -> None:
    """Say how high the shop stands [m]. Raises JobError outside -450 to 4500.

    The pages show the water in the air by it at once; what was stored before stays as it was.
    """
    lowest, highest = ALTITUDE_M
    if not lowest <= altitude_m <= highest:
        raise JobError(f"The altitude must lie between {lowest:g} and {highest:g} m.")
    shop.altitude_m = altitude_m
    shop.save(update_fields=["altitude_m"])


def _open_job(job_id: int) -> Job:
    return Job.objects.select_for_update(of=("self",)).select_related("coach", "shop").get(pk=job_id)


def _check_at_shop(job: Job) -> None:
    if not job.arrived_at or job.collected_at:
        raise NotNow("This can be done while the coach is at the shop.")


def _check_same_job(stored_job_id: int, job: Job, words: str) -> None:
    if stored_job_id != job.pk:
        raise JobError(f"This {words} was already stored for another coach.")
