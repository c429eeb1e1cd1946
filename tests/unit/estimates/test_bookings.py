"""What the shop's own bookings say of coaches to come, and what is said of it beside the odds."""

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from estimates.bookings import LATEST, read_bookings
from estimates.calc.plan.to_come import SLOT
from estimates.inputs import read_shop
from estimates.models import GivenOut, JobForecast, LaterBookings, ShopPlan
from estimates.odds import with_later_bookings
from estimates.services.odds import work_out_odds
from tests.factories import NOON, JobFactory, OperationFactory, SkillFactory

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def scene(kept_coach):
    with time_machine.travel(NOON, tick=False):
        yield kept_coach()


def book(shop, *, days_ago, skill, turn=5, hours=6.0, **fields):
    """A coach that has gone home by now, and its work."""
    at = NOON - days_ago * DAY
    job = JobFactory(
        shop=shop,
        number=1000 + days_ago,
        booked_at=at,
        arrives_on=(at + 14 * DAY).date(),
        arrived_at=at,
        collected_at=at,
        priority=turn,
    )
    OperationFactory(remedy__finding__job=job, hours=hours, crew=2, skill=skill, **fields)
    OperationFactory(remedy__finding__job=job, hours=48.0, wait=True, is_drying=True, blowers=2)
    return job


@pytest.fixture
def busy(scene):
    """Bookings every four days until yesterday, every second one with a lower turn."""
    skill = scene.shop.skills.first()
    for number in range(12):
        book(scene.shop, days_ago=1 + 4 * number, skill=skill, turn=2 if number % 2 else 5, hours=30.0)
    return scene


def test_a_booking_tells_its_lead_its_turn_and_its_work(scene, django_assert_num_queries):
    skill = SkillFactory(shop=scene.shop, name="tinning")
    book(scene.shop, days_ago=30, skill=skill, turn=2)

    with django_assert_num_queries(3):
        first, last = read_bookings(scene.shop, now=NOON).record

    assert (first.lead, first.priority, first.is_promised) == (14 * DAY, 2, False)
    assert first.labour == {"tinning": timedelta(hours=12)}
    assert (first.held, first.drying) == ({"blower": timedelta(hours=96)}, timedelta(hours=48))
    assert (last.lead, last.is_promised) == (0 * DAY, True), "the scene's own coach, booked for today"


def test_bookings_of_another_shop_of_long_ago_and_without_work_tell_nothing(scene):
    book(scene.shop, days_ago=400, skill=scene.shop.skills.first())
    JobFactory(shop=scene.shop)
    other = JobFactory()
    OperationFactory(remedy__finding__job=other)

    assert len(read_bookings(scene.shop, now=NOON).record) == 1


def test_the_latest_are_read_oldest_first(busy, monkeypatch):
    monkeypatch.setattr("estimates.bookings.LATEST", 3)

    record = read_bookings(busy.shop, now=NOON).record

    assert LATEST > 3
    assert [each.booked_at for each in record] == [NOON - 5 * DAY, NOON - 1 * DAY, busy.job.booked_at]


def test_the_shop_gets_places_for_coaches_to_come_once_its_record_is_long_enough(busy):
    snapshot, record, later = with_later_bookings(read_shop(busy.shop, NOON))

    places = [job for job in snapshot._prepared(120).problem.jobs if job.key.startswith(SLOT)]
    assert later == LaterBookings.COUNTED
    assert record.count == 12
    assert len(places) == 12
    assert snapshot.ready_on() == read_shop(busy.shop, NOON).ready_on(), "no plan counts on them"


def test_a_coach_that_waits_is_safe_later_where_others_go_first(busy):
    busy.job.entered_bay_at = busy.job.bay = busy.job.arrived_at = None
    busy.job.arrives_on = (NOON + 20 * DAY).date()
    busy.job.save()
    GivenOut.objects.all().delete()
    work_out_odds(busy.shop, now=NOON, samples=200)
    counted = JobForecast.objects.get(job=busy.job)
    busy.shop.jobs.exclude(pk=busy.job.pk).update(priority=9)

    ShopPlan.objects.update(odds_at=None)
    work_out_odds(busy.shop, now=NOON, samples=200)

    assert counted.safe_on > JobForecast.objects.get(job=busy.job).safe_on


def test_the_pages_say_whether_the_odds_count_on_later_bookings(busy):
    client = Client()
    client.force_login(busy.manager)
    pages = [reverse("shopfloor:job-detail", args=[busy.job.pk]), reverse("shopfloor:board")]

    def text(page):
        return client.get(page).content.decode()

    assert "The odds leave out coaches booked later that go first" in text(pages[1]), "before any odds"

    work_out_odds(busy.shop, now=NOON, samples=20)
    for page in pages:
        assert "The odds count on coaches booked later that go first" in text(page)

    ShopPlan.objects.update(later_bookings=LaterBookings.AFTER)
    for page in pages:
        assert "While the adopted order of work stands" in text(page)


def test_while_an_adopted_order_stands_nobody_is_drawn(busy):
    snapshot = read_shop(busy.shop, NOON)
    snapshot.turns = (("job", "task"),)

    same, record, later = with_later_bookings(snapshot)

    assert same is snapshot
    assert record is None
    assert later == LaterBookings.AFTER
