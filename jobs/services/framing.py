"""The framing of a coach, noted by whoever has opened it up."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from jobs import kinds
from jobs.calc.framing import RUN_WORDS, FaceGroup, MemberRun, framing, spacing_words
from jobs.errors import JobError, NotNow
from jobs.journal import record
from jobs.models import Coach, Job, Person


@dataclass(frozen=True)
class GroupFraming:
    """Members of one group of faces: on centre [mm], None while nobody has measured, and which way they run."""

    spacing_mm: float | None = None
    run: str = MemberRun.ACROSS


def framing_words(coach: Coach, group: FaceGroup, units: str) -> str:
    """ "16 in apart, upright", or the same as an assumption."""
    known = coach.framing_of(group)
    apart = f"{spacing_words(known.spacing_mm, units=units)} apart, {RUN_WORDS[group][known.run]}"
    return f"{apart} (assumed)" if known.is_assumed else apart


def framing_lines(coach: Coach, units: str) -> list[str]:
    """ "Roof: 16 in apart, from side to side", a line for each group of faces."""
    return [f"{group.capitalize()}: {framing_words(coach, group, units)}" for group in FaceGroup]


@transaction.atomic
def note_framing(*, job_id: int, known: Mapping[FaceGroup, GroupFraming], by: Person, now: datetime) -> Coach:
    """Note how the members of a coach stand. What is priced from now on reckons with it; kept offers do not change.

    Raises JobError for a spacing that is a slip, NotNow once the coach has been collected.
    """
    job = Job.objects.select_for_update().select_related("coach", "shop").get(pk=job_id)
    if job.collected_at:
        raise NotNow("This coach has been collected.")
    coach = job.coach
    try:
        for group, given in known.items():
            framing(given.spacing_mm, given.run)
            set_framing(coach, group, given)
    except ValueError as error:
        raise JobError(str(error)) from None
    coach.save(update_fields=[f"{group}_{part}" for group in known for part in ("spacing_mm", "run")])
    words = "; ".join(f"{group}: {framing_words(coach, group, job.shop.units)}" for group in known)
    record(job, kinds.FRAMING_NOTED, now=now, person=by, data={"words": words})
    return coach


def set_framing(coach: Coach, group: FaceGroup, given: GroupFraming) -> None:
    """Put it on the row, without storing it."""
    setattr(coach, f"{group}_spacing_mm", given.spacing_mm)
    setattr(coach, f"{group}_run", str(given.run))
