"""Other coaches that an answer moves, by name: for the shop's own pages, never an owner's."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from jobs.models import Job

# Job (primary key) and days, as the plan and the odds keep them.
Kept = Sequence[Sequence[int]]


@dataclass(frozen=True)
class MovedCoach:
    """Another coach, and by how many days; below nought sooner."""

    job: Job
    days: int


def jobs_of(kept: Iterable[Kept]) -> dict[int, Job]:
    """The jobs that are named in these, by primary key; one query, none where there are none."""
    wanted = {pk for rows in kept for pk, _ in rows}
    return Job.objects.select_related("coach").in_bulk(wanted) if wanted else {}


def moved_coaches(kept: Kept, jobs: Mapping[int, Job]) -> tuple[MovedCoach, ...]:
    """In the order they are kept in, which is most days first."""
    return tuple(MovedCoach(jobs[pk], days) for pk, days in kept if pk in jobs)
