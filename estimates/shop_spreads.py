"""How sure durations are at this shop: by its own record, and by planning values where that is short."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from estimates.calc.plan import Spread, Spreads
from estimates.calc.plan.experience import Awaited, spread_of_waits, spread_of_work
from jobs.models import ApprovalRequest, Decision, Operation, Shop
from jobs.models.work import OperationKind

# The latest work and questions tell most; older ones would only be read again and again.
LATEST = 300
# Fewer answers than this tell less than the planning value.
FEWEST_ANSWERS = 5
# An answer sooner than this moves no date more, and counting seconds would make the record look wilder than it is.
SOONEST_ANSWER = timedelta(hours=1)


def shop_spreads(shop: Shop, *, now: datetime) -> Spreads:
    """Labour from finished work against its standard hours, answers from questions asked. Two reads, however many."""
    planned = Spreads()
    return Spreads(
        labour=spread_of_work(list(_ratios(shop, now))),
        answer=_answers(shop, now) or planned.answer,
        drying=planned.drying,
        wait=planned.wait,
        shared=planned.shared,
    )


def _ratios(shop: Shop, now: datetime) -> Iterator[float]:
    """Clocked against standard person-hours of labour that is finished; work done again says nothing of the first."""
    finished = Operation.objects.filter(job__shop=shop, kind=OperationKind.LABOUR, finished_at__isnull=False)
    latest = finished.filter(redo_of__isnull=True, hours__gt=0).order_by("-finished_at").prefetch_related("spans")
    for operation in latest[:LATEST]:
        clocked_h = sum(span.hours_until(now) for span in operation.spans.all())
        if clocked_h > 0:
            yield clocked_h / (operation.hours * operation.crew)


def _answers(shop: Shop, now: datetime) -> Spread | None:
    record = [each.as_share for each in read_waits(shop, now)]
    if sum(each.is_over for each in record) < FEWEST_ANSWERS:
        return None
    try:
        return spread_of_waits(record)
    except ValueError:  # all answers took equally long
        return None


@dataclass(frozen=True)
class AnswerWait:
    """How long an owner took to answer, or has been waited for so far, and how long we gave."""

    waited: timedelta
    given: timedelta
    is_over: bool

    @property
    def as_share(self) -> Awaited:
        return Awaited(max(self.waited, SOONEST_ANSWER) / self.given, self.is_over)

    @property
    def in_days(self) -> Awaited:
        return Awaited(self.waited / timedelta(days=1), self.is_over)


def read_waits(shop: Shop, now: datetime) -> list[AnswerWait]:
    """The shop's latest questions to owners; those taken back, and those that nobody was asked, are left out."""
    asked = ApprovalRequest.objects.filter(finding__job__shop=shop).select_related("decision").order_by("-asked_at")
    return list(_waits(asked[:LATEST], now))


def _waits(asked: Iterable[ApprovalRequest], now: datetime) -> Iterator[AnswerWait]:
    for request in asked:
        decision: Decision | None = getattr(request, "decision", None)
        if (decision is None and request.closed_at) or (decision and decision.channel == Decision.Channel.GO_AHEAD):
            continue  # taken back, or nobody was asked
        waited = (decision.decided_at if decision else now) - request.asked_at
        if waited > timedelta(0):
            yield AnswerWait(waited, request.answer_by_at - request.asked_at, is_over=decision is not None)
