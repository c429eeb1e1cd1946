"""The shop's own forecasts against what came of them: rows in, estimates.calc.backtest asked."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Prefetch

from estimates.calc.backtest import Course, Row, Said, back_test
from estimates.calc.plan.experience import median_wait, still_waiting
from estimates.shop_spreads import FEWEST_ANSWERS, AnswerWait, read_waits
from jobs.models import Job, Operation, Shop
from jobs.models.work import Phase
from jobs.stages import progress_of

# The latest coaches tell how dates hold now; older ones would only be read again and again.
LATEST = 300


def read_odds_record(shop: Shop, now: datetime) -> tuple[Row, ...]:
    """A row for each moment of a stay, over the shop's latest coaches. A fixed number of queries."""
    return back_test(list(_courses(shop)), today=shop.local_date(now))


@dataclass(frozen=True)
class AnswerRecord:
    """How long owners take to answer. answered, waiting: questions with and still without an answer.

    median_days: half take longer; None while more than half still wait. in_time: share that answers within the time we
    ask for. Both None with fewer answers than tell anything.
    """

    answered: int
    waiting: int
    median_days: float | None
    in_time: float | None


def read_answer_record(shop: Shop, now: datetime) -> AnswerRecord:
    """From the shop's questions, those still open counted as waits that will be longer. One query."""
    waits = read_waits(shop, now)
    answered = sum(each.is_over for each in waits)
    if answered < FEWEST_ANSWERS:
        return AnswerRecord(answered, len(waits) - answered, None, None)
    return AnswerRecord(answered, len(waits) - answered, median_wait([each.in_days for each in waits]), _in_time(waits))


def _in_time(waits: list[AnswerWait]) -> float:
    """1 less the share that waits longer than all of the time given."""
    steps = still_waiting([each.as_share for each in waits])
    return 1 - min([share for taken, share in steps if taken <= 1], default=1.0)


def _courses(shop: Shop) -> Iterator[Course]:
    opening = Operation.objects.filter(phase=Phase.OPEN_UP, remedy__finding__is_booked=True)
    jobs = Job.objects.filter(shop=shop, day_forecasts__isnull=False).distinct().order_by("-booked_at", "-pk")
    latest = jobs.prefetch_related("day_forecasts", "promises", Prefetch("operations", opening, "opening"))[:LATEST]
    progress = progress_of(latest)
    for job in latest:
        ended_at = progress[job.pk].ended_at
        yield Course(
            booked_on=shop.local_date(job.booked_at),
            arrived_on=shop.local_date(job.arrived_at) if job.arrived_at else None,
            opened_on=_opened_on(shop, job.opening),  # type: ignore[attr-defined]
            ready_on=shop.local_date(ended_at) if ended_at else None,
            said=tuple(_said(shop, job)),
        )


def _said(shop: Shop, job: Job) -> Iterator[Said]:
    promises = [(shop.local_date(each.promised_at), each.ready_on) for each in job.promises.all()]
    for each in job.day_forecasts.all():
        # A coach is promised right after it was booked; so what is promised on a day counts for that day.
        in_force = [ready_on for promised_on, ready_on in promises if promised_on <= each.on]
        yield Said(each.on, each.planned_on, each.even_on, each.safe_on, in_force[-1] if in_force else None)


def _opened_on(shop: Shop, opening: Sequence[Operation]) -> date | None:
    """When the opening up that was agreed at booking was done."""
    ended = [each.finished_at for each in opening if each.finished_at]
    return shop.local_date(max(ended)) if ended and len(ended) == len(opening) else None
