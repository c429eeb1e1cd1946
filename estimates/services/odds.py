"""Keeping the odds of every coach's date beside the plan, and what was said on each day for the record."""

import logging
from collections.abc import Iterator, Mapping
from datetime import datetime

from django.db import transaction
from django.db.models import F

from estimates.calc.plan import HorizonTooShort
from estimates.inputs import Snapshot, read_shop
from estimates.models import DayForecast, JobForecast, LaterBookings, QuestionOdds, ShopPlan
from estimates.odds import AnswerOdds, ReadyOdds, ShopOdds, shop_odds
from jobs.models import ApprovalRequest, Shop

log = logging.getLogger(__name__)

# Enough for a date that is told to somebody.
SAMPLES = 1000


def work_out_odds(shop: Shop, *, now: datetime, samples: int = SAMPLES) -> bool:
    """Simulate the shop and keep each coach's even and safe date, unless they are those of the plan in force.

    Beside them what each open question does to them. The first of a day are also kept for good, one row a coach, to be
    held against the day it is ready on. Where a course outlasts every plan there are no odds: none are better than old
    ones.
    While something has happened that the plan does not know of yet, or that cannot be planned, none are worked out.
    Returns whether there was something to work out. Raises ValueError in words when the shop cannot be planned.
    """
    plan = ShopPlan.objects.filter(shop=shop).exclude(odds_at__gte=F("made_at")).first()
    if plan is None:
        return False
    snapshot = read_shop(shop, now)
    if snapshot.entries:
        return False  # they would be odds of a plan that is still to be made
    try:
        found = shop_odds(snapshot, samples=samples)
    except HorizonTooShort:
        log.exception("no odds for shop %s", shop.pk)
        found = ShopOdds({}, {}, LaterBookings.FEW)
    odds = found.ready
    with transaction.atomic():
        JobForecast.objects.filter(job__shop=shop).exclude(job__in=odds).update(even_on=None, safe_on=None)
        for job_id, each in odds.items():
            JobForecast.objects.filter(job_id=job_id).update(even_on=each.even_on, safe_on=each.safe_on)
        DayForecast.objects.bulk_create(_of_the_day(snapshot, odds), ignore_conflicts=True)
        QuestionOdds.objects.filter(request__finding__job__shop=shop).delete()
        QuestionOdds.objects.bulk_create(_of_the_questions(found.answers))
        ShopPlan.objects.filter(shop=shop).update(later_bookings=found.later)
        # Those of a plan that was made meanwhile are still due.
        ShopPlan.objects.filter(shop=shop, made_at=plan.made_at).update(odds_at=now)
    return True


def _of_the_day(snapshot: Snapshot, odds: Mapping[int, ReadyOdds]) -> Iterator[DayForecast]:
    """What is told of each coach; nothing of one whose booked work is not written down yet."""
    planned_on = snapshot.ready_on()
    for job in snapshot.jobs:
        if not snapshot.work[job.pk]:
            continue
        told = odds.get(job.pk)
        yield DayForecast(
            job=job,
            on=snapshot.today,
            made_at=snapshot.now,
            planned_on=planned_on[job.pk],
            even_on=told.even_on if told else None,
            safe_on=told.safe_on if told else None,
        )


def _of_the_questions(answers: Mapping[int, AnswerOdds]) -> Iterator[QuestionOdds]:
    """Of those that are still open: an answer may have come meanwhile."""
    for request in ApprovalRequest.objects.open().filter(finding__in=answers):
        each = answers[request.finding_id]
        yield QuestionOdds(
            request=request,
            even_with_on=each.with_it.even_on,
            safe_with_on=each.with_it.safe_on,
            even_without_on=each.without.even_on,
            safe_without_on=each.without.safe_on,
            others=[list(other) for other in each.others],
        )
