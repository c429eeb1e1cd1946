"""Searching a better order in the worker: when it is due, what is kept of it, and that it may die and run twice."""

from dataclasses import replace
from datetime import timedelta

import pytest
import time_machine
from django.db import connection

from estimates.better_order import LEAST_GAIN, plan_mark, read_better_order
from estimates.calc.plan import OrderHunt
from estimates.inputs import read_shop
from estimates.models import OrderSearch, PlannedTask
from estimates.services import order_search
from estimates.services.order_search import LEASE, ask_for_order, look_for_order
from estimates.tasks import look_for_orders
from jobs import kinds
from jobs.journal import record
from jobs.models import Person
from jobs.services.booking import promise_date, set_priority
from shopfloor.demo.telling import drain
from tests.factories import NOON
from tests.scenes import crowded_bay

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def kept(keeper):
    with time_machine.travel(NOON, tick=False):
        return keeper(crowded_bay, NOON)


@pytest.fixture
def crowded(kept, settings):
    """A long job goes before a short one that is promised for today. Half a second of polish, none before it."""
    settings.ORDER_SEARCH_SECONDS, settings.ORDER_POLISH_SECONDS = 0.0, 0.5
    with time_machine.travel(NOON, tick=False):
        yield kept()[0]


def row():
    return OrderSearch.objects.get()


def test_the_polish_goes_on_from_the_first_search_and_keeps_what_is_better(crowded):
    assert look_for_order(crowded.shop, now=NOON)

    found = row()
    assert found.first_gain == 0
    assert LEAST_GAIN < found.gain <= 1
    assert found.late_after < found.late_before
    assert (found.is_polished, found.claim, found.version) == (True, None, 2)
    assert found.seconds == 0.5


def test_a_polish_that_finds_nothing_better_says_so_and_keeps_the_order(crowded, settings):
    settings.ORDER_SEARCH_SECONDS, settings.ORDER_POLISH_SECONDS = 0.5, 0.0

    look_for_order(crowded.shop, now=NOON)

    found = row()
    assert found.first_gain == found.gain > LEAST_GAIN
    assert (found.is_polished, found.version) == (True, 1)


def test_what_is_proposed_is_what_the_shop_would_come_to(crowded):
    look_for_order(crowded.shop, now=NOON)

    found = row()
    snapshot = read_shop(crowded.shop, NOON)
    before = snapshot.ready_on()
    after = replace(snapshot, turns=tuple(tuple(turn) for turn in found.turns)).ready_on()
    moved = [each["job"] for each in found.coaches]
    assert set(moved) == {pk for pk in before if before[pk] != after[pk]}
    for each in found.coaches:
        assert (each["now_on"], each["then_on"]) == (str(before[each["job"]]), str(after[each["job"]]))


def test_while_the_plan_stays_nothing_is_searched_again(crowded):
    look_for_order(crowded.shop, now=NOON)
    before = row()

    assert not look_for_order(crowded.shop, now=NOON + timedelta(minutes=1))
    assert row().version == before.version


def test_what_moves_no_start_and_no_date_leaves_the_order_fresh(crowded):
    look_for_order(crowded.shop, now=NOON)
    record(crowded.job, kinds.CLOCKED_ON, now=NOON, person=crowded.technician)

    assert not read_better_order(crowded.shop, NOON).is_stale
    assert not look_for_order(crowded.shop, now=NOON)


@pytest.mark.parametrize("event", ["turn", "promise", "start"])
def test_what_changes_the_plan_makes_it_stale_and_is_searched_anew(crowded, event):
    look_for_order(crowded.shop, now=NOON)
    if event == "turn":
        set_priority(job_id=crowded.job.pk, priority=3, by=crowded.manager, now=NOON)
        assert plan_mark(crowded.shop) == ""  # nothing is searched until the shop is planned
        assert not look_for_order(crowded.shop, now=NOON)
        drain(NOON)
    elif event == "promise":
        promise_date(
            job=crowded.job,
            ready_on=NOON.date() + timedelta(days=9),
            expected_on=None,
            reason="Asked",
            by=crowded.manager,
            now=NOON,
        )
        drain(NOON)
    else:
        PlannedTask.objects.filter(kind="labour").update(end_at=NOON + timedelta(days=90))

    assert read_better_order(crowded.shop, NOON).is_stale
    assert look_for_order(crowded.shop, now=NOON)
    assert not read_better_order(crowded.shop, NOON).is_stale


def test_a_manager_who_asks_has_it_searched_on_from_what_was_found(crowded, settings):
    look_for_order(crowded.shop, now=NOON)
    found = row()
    settings.ORDER_POLISH_SECONDS = 0.0

    ask_for_order(shop=crowded.shop, now=NOON)

    assert read_better_order(crowded.shop, NOON).is_due
    assert look_for_order(crowded.shop, now=NOON)
    assert row().first_gain == pytest.approx(found.gain)
    assert row().asked_at is None
    assert not read_better_order(crowded.shop, NOON).is_under_way


def test_two_workers_do_not_search_at_once(crowded):
    look_for_order(crowded.shop, now=NOON)
    ask_for_order(shop=crowded.shop, now=NOON)
    OrderSearch.objects.update(claim="0" * 32, claimed_until=NOON + LEASE)

    assert not look_for_order(crowded.shop, now=NOON)
    assert read_better_order(crowded.shop, NOON).is_searching
    # A dead worker's claim lapses.
    assert look_for_order(crowded.shop, now=NOON + LEASE + timedelta(seconds=1))


@pytest.mark.parametrize("dies_in", ["read_shop", "go_on", "polish", "found"])
def test_a_search_that_dies_is_done_again_when_its_claim_lapses(crowded, monkeypatch, dies_in):
    class Killed(BaseException):
        pass

    calls = []

    def die(*args, **kwargs):
        calls.append(dies_in)
        if dies_in != "polish" or len(calls) == 2:
            raise Killed
        return args[0]

    with monkeypatch.context() as patched:
        if dies_in == "read_shop":
            patched.setattr(order_search, "read_shop", die)
        else:
            patched.setattr(OrderHunt, "found" if dies_in == "found" else "go_on", die)
        with pytest.raises(Killed):
            look_for_order(crowded.shop, now=NOON)

    later = NOON + LEASE + timedelta(seconds=1)
    assert read_better_order(crowded.shop, later).is_due
    assert look_for_order(crowded.shop, now=later)
    assert row().is_polished
    assert row().gain > LEAST_GAIN


def test_a_worker_that_lost_its_claim_writes_nothing(crowded, monkeypatch):
    go_on = OrderHunt.go_on

    def lose_it(hunt, **limits):
        OrderSearch.objects.update(claim="0" * 32)
        return go_on(hunt, **limits)

    monkeypatch.setattr(OrderHunt, "go_on", lose_it)

    look_for_order(crowded.shop, now=NOON)

    assert row().found_at is None
    assert row().turns == []


def test_a_plan_that_changes_meanwhile_ends_the_search(crowded, monkeypatch):
    limits_s = []
    go_on = OrderHunt.go_on

    def meanwhile(hunt, *, limit_s):
        limits_s.append(limit_s)
        set_priority(job_id=crowded.job.pk, priority=3, by=crowded.manager, now=NOON)
        return go_on(hunt, limit_s=limit_s)

    monkeypatch.setattr(OrderHunt, "go_on", meanwhile)

    look_for_order(crowded.shop, now=NOON)

    assert limits_s == [0.0]
    assert (row().is_polished, row().claim) == (False, None)
    assert read_better_order(crowded.shop, NOON).is_stale


def test_no_transaction_is_open_while_it_searches(crowded, monkeypatch):
    depths = []
    go_on = OrderHunt.go_on

    def look(hunt, **limits):
        depths.append(len(connection.savepoint_ids))
        return go_on(hunt, **limits)

    depth = len(connection.savepoint_ids)
    monkeypatch.setattr(OrderHunt, "go_on", look)

    look_for_order(crowded.shop, now=NOON)

    assert depths == [depth, depth]


def test_a_shop_that_cannot_be_planned_says_why_and_is_tried_again(crowded):
    Person.objects.filter(shop=crowded.shop, role="technician").update(is_active=False)

    assert look_for_order(crowded.shop, now=NOON)

    assert row().refusal
    assert not read_better_order(crowded.shop, NOON).is_under_way
    Person.objects.filter(shop=crowded.shop, role="technician").update(is_active=True)
    assert look_for_order(crowded.shop, now=NOON)
    assert row().refusal == ""
    assert row().is_polished


def test_a_shop_without_a_plan_is_left_alone(crowded):
    crowded.shop.plan.delete()

    look_for_orders()

    assert not OrderSearch.objects.exists()


def test_the_task_takes_every_shop_and_the_page_asks_a_fixed_number_of_queries(crowded, django_assert_max_num_queries):
    look_for_orders()

    assert row().is_polished
    with django_assert_max_num_queries(9):
        assert read_better_order(crowded.shop, NOON).is_worth_it
