"""The manager's page of how the dates held: from rows kept day by day to plain words."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.urls import reverse

from estimates.models import DayForecast
from estimates.odds_record import read_answer_record, read_odds_record
from estimates.shop_spreads import FEWEST_ANSWERS
from jobs.models import Promise
from tests.factories import (
    NOON,
    ApprovalRequestFactory,
    DecisionFactory,
    FindingFactory,
    HoldPointFactory,
    JobFactory,
    OperationFactory,
    PersonFactory,
    RemedyFactory,
    ShopFactory,
)

pytestmark = pytest.mark.django_db

ZONE = ZoneInfo("America/Chicago")
URL = reverse("shopfloor:odds-record")


@pytest.fixture
def shop():
    return ShopFactory()


@pytest.fixture
def manager(shop):
    return PersonFactory(shop=shop, manager=True)


def at(days_ago, hour=10):
    return datetime(2026, 3, 4, hour, tzinfo=ZONE) - timedelta(days=days_ago)


def gone(shop, *, ready_ago=10, late=0, booked_ago=40, arrived_ago=30, opened_ago=28, promised=None):
    """A coach of old: opened up, mended, signed off, collected. Every day it was said to be ready `late` days earlier
    at even odds, a week later safely, and a week earlier by the plan."""
    arrived = at(arrived_ago)
    job = JobFactory(shop=shop, booked_at=at(booked_ago), arrives_on=arrived.date(), arrived_at=arrived)
    remedy = RemedyFactory(finding=FindingFactory(job=job, is_booked=True))
    OperationFactory(remedy=remedy, started_at=arrived, finished_at=at(opened_ago))
    last = OperationFactory(remedy=remedy, phase=6, started_at=at(ready_ago + 2), finished_at=at(ready_ago + 1))
    by = PersonFactory(shop=shop, manager=True)
    HoldPointFactory(operation=last, passed_at=at(ready_ago), checked_by=by)
    job.collected_at = at(ready_ago - 2)
    job.save()
    even_on = at(ready_ago + late).date()
    week = timedelta(days=7)
    if promised:
        Promise.objects.create(
            job=job, ready_on=at(promised).date(), reason="Given", promised_at=at(booked_ago, 11), promised_by=by
        )
    DayForecast.objects.bulk_create(
        DayForecast(
            job=job,
            on=at(ago).date(),
            made_at=at(ago, 0),
            planned_on=even_on - week,
            even_on=even_on,
            safe_on=even_on + week,
        )
        for ago in range(booked_ago, ready_ago - 3, -1)
    )
    return job


def test_ready_is_when_the_last_check_is_signed_off(shop):
    gone(shop, ready_ago=10, late=0)

    row = read_odds_record(shop, NOON)[0]

    assert (row.moment, row.even.ready, row.safe.ready) == ("booking", 1, 1)
    assert read_odds_record(shop, at(9))[0].even.ready == 1
    assert read_odds_record(shop, at(10, 12))[0].even.of == 0, "the day of the date is not over"


def test_moments_follow_booking_arrival_opening_and_whole_weeks(shop):
    gone(shop)

    assert [row.moment for row in read_odds_record(shop, NOON)] == ["booking", "arrival", "opening", "week 1", "week 2"]


def test_an_open_question_keeps_a_coach_from_being_ready(shop):
    job = gone(shop)
    ApprovalRequestFactory(remedy=RemedyFactory(finding__job=job), asked_at=at(12), answer_by_at=at(11))

    row = read_odds_record(shop, NOON)[0]

    assert (row.even.ready, row.even.of) == (0, 1)


def test_the_promise_of_a_day_is_the_last_one_given_until_then(shop):
    job = gone(shop, promised=9)
    Promise.objects.create(
        job=job,
        ready_on=at(5).date(),
        reason="More was found",
        promised_at=at(29),
        promised_by=PersonFactory(shop=shop, manager=True),
    )

    booking, arrival, *_ = read_odds_record(shop, NOON)

    # Ready on day 10 before now; promised one day later at first, five days later from arrival on.
    assert booking.scores.promise.mean_late_days == -1
    assert arrival.scores.promise.mean_late_days == -5
    assert booking.scores.plan.mean_late_days == 7


def test_the_page_says_in_plain_words_how_the_dates_held(shop, manager, client):
    for number in range(15):
        gone(shop, late=20 if number < 3 else 0, promised=12)
    client.force_login(manager)

    with time_machine.travel(NOON, tick=False):
        page = client.get(URL).text

    assert "What was said once it was opened up" in page
    assert "of 15 coaches, 12 were ready by it; at four in five it would be 12. That fits;" in page
    assert "in the long run it may be from 52 to 96 in a hundred." in page
    assert "Promise then in force" in page


def test_few_coaches_are_said_to_be_too_few(shop, manager, client):
    gone(shop)
    client.force_login(manager)

    with time_machine.travel(NOON, tick=False):
        page = client.get(URL).text

    assert "Too few to tell" in page
    assert "That fits" not in page


def test_a_shop_without_a_record_is_told_so(manager, client):
    client.force_login(manager)

    page = client.get(URL).text

    assert "Nothing to tell yet" in page
    assert "too few to tell how long they take" in page


def test_another_shops_coaches_stand_in_no_record(shop):
    gone(ShopFactory())

    assert read_odds_record(shop, NOON) == ()


def test_a_fixed_number_of_queries(shop, django_assert_num_queries):
    gone(shop)
    with django_assert_num_queries(6):
        read_odds_record(shop, NOON)
    gone(shop)
    gone(shop)

    with django_assert_num_queries(6):
        read_odds_record(shop, NOON)


def ask(shop, waited_h=None):
    request = ApprovalRequestFactory(remedy=RemedyFactory(finding__job__shop=shop), asked_at=at(4), answer_by_at=at(3))
    if waited_h:
        DecisionFactory(request=request, decided_at=at(4) + timedelta(hours=waited_h))


def test_answer_times_count_those_who_have_not_answered(shop, manager, client):
    for hours in (6, 12, 18, 30, 36):
        ask(shop, waited_h=hours)
    answered = read_answer_record(shop, NOON)
    for _ in range(3):
        ask(shop)

    with_waiting = read_answer_record(shop, NOON)

    assert (answered.median_days, answered.in_time) == (18 / 24, pytest.approx(0.6))
    assert (with_waiting.answered, with_waiting.waiting) == (5, 3)
    assert (with_waiting.median_days, with_waiting.in_time) == (30 / 24, pytest.approx(3 / 8))
    client.force_login(manager)
    with time_machine.travel(NOON, tick=False):
        page = client.get(URL).text
    assert "Half of the questions are answered within 1.2 days. 4 in ten are answered by the time we ask for." in page
    assert "3 questions still open are counted as longer waits than so far." in page


def test_few_answers_tell_nothing(shop):
    for _ in range(FEWEST_ANSWERS - 1):
        ask(shop, waited_h=6)

    assert read_answer_record(shop, NOON).median_days is None


@pytest.mark.parametrize("role", ["technician", "stranger"])
def test_it_is_the_managers_page(shop, client, role):
    if role == "technician":
        client.force_login(PersonFactory(shop=shop))

    assert client.get(URL).status_code in {302, 403, 404}
    assert client.post(URL).status_code in {302, 403, 405}
