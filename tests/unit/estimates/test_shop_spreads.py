"""Spreads from the shop's record: finished work on the clock, questions and their answers."""

from datetime import timedelta

import numpy as np
import pytest

from estimates.calc.plan import Spreads
from estimates.calc.plan.experience import spread_of_work
from estimates.shop_spreads import FEWEST_ANSWERS, AnswerWait, shop_spreads
from tests.factories import (
    NOON,
    ApprovalRequestFactory,
    DecisionFactory,
    OperationFactory,
    PersonFactory,
    RemedyFactory,
    ShopFactory,
    WorkSpanFactory,
)

pytestmark = pytest.mark.django_db
EVEN = np.array([0.5])


@pytest.fixture
def shop():
    return ShopFactory()


def did(shop, *, took_h, hours=2.0, **fields):
    operation = OperationFactory(remedy__finding__job__shop=shop, finished=True, hours=hours, **fields)
    begin = NOON - timedelta(days=1)
    person = PersonFactory(shop=shop)
    WorkSpanFactory(operation=operation, person=person, started_at=begin, ended_at=begin + timedelta(hours=took_h))
    return operation


def asked(shop, *, waited_h=None, **decision):
    remedy = RemedyFactory(finding__job__shop=shop)
    begin = NOON - timedelta(days=4)
    request = ApprovalRequestFactory(remedy=remedy, asked_at=begin, answer_by_at=begin + timedelta(hours=24))
    if waited_h is not None:
        DecisionFactory(request=request, decided_at=begin + timedelta(hours=waited_h), **decision)
    return request


def test_without_a_record_planning_values_hold(shop):
    spreads = shop_spreads(shop, now=NOON)

    assert spreads.labour == spread_of_work([])
    assert spreads.answer == Spreads().answer


def test_work_that_takes_twice_its_hours_draws_the_next_work_toward_it(shop):
    before = shop_spreads(shop, now=NOON).labour.at(EVEN)[0]
    for _ in range(20):
        did(shop, took_h=4.0)

    after = shop_spreads(shop, now=NOON).labour.at(EVEN)[0]

    assert before < 1.2
    assert 1.7 < after < 2.0


def test_closed_jobs_are_what_it_learns_from(shop):
    jobs = [did(shop, took_h=4.0).job for _ in range(3)]
    open_still = shop_spreads(shop, now=NOON).labour
    for job in jobs:
        job.collected_at = NOON
        job.save()

    assert shop_spreads(shop, now=NOON).labour == open_still == spread_of_work([2.0] * 3)


def test_a_crew_is_counted_by_person_hours_and_work_done_again_not_at_all(shop):
    first = did(shop, took_h=4.0, crew=2)
    did(shop, took_h=40.0, redo_of=first, payer="shop")

    assert shop_spreads(shop, now=NOON).labour == spread_of_work([1.0])


def test_answers_are_shares_of_the_time_given_and_open_questions_count_as_longer(shop):
    for number in range(FEWEST_ANSWERS):
        asked(shop, waited_h=10.0 + number)
    answered = shop_spreads(shop, now=NOON).answer
    for _ in range(FEWEST_ANSWERS):
        asked(shop)

    waiting = shop_spreads(shop, now=NOON).answer

    assert answered.at(EVEN)[0] == pytest.approx(12.0 / 24, rel=0.05)
    assert waiting.at(EVEN)[0] > 2 * answered.at(EVEN)[0]


def test_an_answer_within_the_hour_counts_as_an_hour():
    given = timedelta(hours=24)

    shares = [AnswerWait(timedelta(seconds=took), given, is_over=True).as_share.wait for took in (5, 3600, 7200)]

    assert shares == [pytest.approx(share / 24) for share in (1, 1, 2)]


def test_another_shops_record_says_nothing(shop):
    other = ShopFactory()
    for _ in range(10):
        did(other, took_h=9.0)

    assert shop_spreads(shop, now=NOON).labour == spread_of_work([])


def test_two_reads_however_much_there_is(shop, django_assert_max_num_queries):
    for _ in range(6):
        did(shop, took_h=3.0)
        asked(shop, waited_h=5.0)

    with django_assert_max_num_queries(3):
        shop_spreads(shop, now=NOON)
