"""Why a date moved when nothing happened: what runs, a coach that is late, or what goes on around it."""

from datetime import timedelta

import pytest

from estimates.models import DateChange
from estimates.reasons import Reason, reason_for
from tests.factories import NOON, FindingFactory, JobFactory, OperationFactory, RemedyFactory

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]

HOUR = timedelta(hours=1)
Cause = DateChange.Cause
LATE = Reason(Cause.ARRIVAL, "Coach has not arrived")
CAME_LATE = Reason(Cause.ARRIVAL, "Coach came later than booked")
AROUND_IT = Reason(Cause.OTHER_COACH, "Other work in the shop takes another time than planned")


def operation_of(job, **changes):
    return OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job, is_booked=True)), **changes)


@pytest.mark.parametrize(
    ("arrived_at", "due_at", "reason"),
    [
        (None, NOON - HOUR, LATE),
        (None, NOON, AROUND_IT),
        (None, NOON + 72 * HOUR, AROUND_IT),
        # Came after the last plan: the days before that are still those it was waited for.
        (NOON, NOON - HOUR, CAME_LATE),
        (NOON, NOON + HOUR, AROUND_IT),
        (NOON - 2 * HOUR, NOON - HOUR, Reason(Cause.WORK, "Not begun: Strip the skin")),
    ],
)
def test_a_coach_is_missed_only_once_it_is_due(arrived_at, due_at, reason):
    job = JobFactory(arrived_at=arrived_at)
    operation_of(job, words="Strip the skin")

    assert reason_for(job, None, until=NOON, due_at=due_at) == reason


def test_what_runs_is_the_reason_before_all_else():
    job = JobFactory(arrived=True)
    operation_of(job, words="Strip the skin", running=True)

    assert reason_for(job, None, until=NOON, due_at=NOON - HOUR) == Reason(Cause.WORK, "Strip the skin")
