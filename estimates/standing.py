"""Who still has what: starts given out for today that stand, and running work that goes on with those who are here."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from estimates.agreed_work import AgreedWork
from estimates.calc.plan import Worker
from estimates.models import GivenOut
from estimates.plan_keys import worker_key
from jobs.calc.workdays import ShopCalendar
from jobs.models import Job
from jobs.stages import progress_of


@dataclass(frozen=True)
class Presence:
    """When people are there: the shop's calendar, the weeks of those who keep their own, and the days they are away."""

    workers: Mapping[str, Worker]
    calendar: ShopCalendar
    weeks: Mapping[str, ShopCalendar]
    now: datetime

    def is_here_for(self, person_id: int, at: datetime, lasts: timedelta) -> bool:
        """Whether somebody is there all the while for work that begins when they next are at work from a moment on."""
        worker = self.workers.get(worker_key(person_id))
        if worker is None:
            return False
        calendar = self.weeks.get(worker.key, self.calendar)
        try:
            begin = calendar.next_open(max(at, self.now))
            end = calendar.add_working(begin, lasts)
        except ValueError:  # never at work again
            return False
        return not any(begin < until and end > since for since, until in worker.away)


def standing_starts(
    rows: Iterable[GivenOut], work: Iterable[AgreedWork], is_here_for: Callable[[int, datetime, timedelta], bool]
) -> Iterator[GivenOut]:
    """Those given out to people who are all there when the work would be done.

    In the evening that is tomorrow: what nobody has begun goes back to the plan when its people are away then.
    """
    hours = {each.pk: timedelta(hours=each.hours) for each in work}
    for row in rows:
        if row.operation_id in hours and row.worker_ids:
            lasts = hours[row.operation_id]
            if all(is_here_for(person, row.start_at, lasts) for person in row.worker_ids):
                yield row


def going_on(work: Sequence[AgreedWork], presence: Presence) -> list[AgreedWork]:
    """The work, running work without those who are away when it goes on, where the others on it are enough."""
    return [_with_those_here(each, presence) if each.started_at and not each.finished_at else each for each in work]


def _with_those_here(work: AgreedWork, presence: Presence) -> AgreedWork:
    here = tuple(pk for pk in work.worker_ids if presence.is_here_for(pk, presence.now, timedelta(0)))
    return work._replace(worker_ids=here) if len(here) >= work.crew else work


def ended_at(jobs: Iterable[Job], work: Mapping[int, Sequence[AgreedWork]]) -> dict[int, datetime]:
    """When the last of each coach was done, check and answer too, for those with nothing left; no query without any.

    A plan knows work by its end; a coach that then waited for a signature or an answer was ready only with that.
    """
    done = [job for job in jobs if work[job.pk] and all(each.finished_at for each in work[job.pk])]
    return {pk: each.ended_at for pk, each in progress_of(done).items() if each.ended_at} if done else {}
