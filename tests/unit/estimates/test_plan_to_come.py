"""Coaches not booked yet: whom they go before in a forecast, and whom they leave alone."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from estimates.calc.plan import Change, PlanJob, Problem, Spreads, Task, Worker, forecast, plan, prepare
from estimates.calc.plan.spread import SURE
from estimates.calc.plan.to_come import FEWEST_BOOKINGS, SLOT, Booking, Bookings, booking_of, with_room_for

MONDAY = datetime(2026, 3, 2, 0, 0, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
ALWAYS = ((MONDAY - 90 * DAY, MONDAY + 900 * DAY),)
CERTAIN = Spreads(SURE, SURE, SURE, SURE, SURE)


def coach(key, *, turn=5, arrives=MONDAY + 20 * DAY, promised_at=MONDAY + 60 * DAY, **fields):
    task = Task(f"{key} work", "Work", "labour", 10 * DAY, (("body", 1),), needs_bay=True, **fields)
    return PlanJob(key, turn, arrives, promised_at=promised_at, bay_choices=("bay",), tasks=(task,))


def problem(*jobs, **fields):
    return Problem(MONDAY, ALWAYS, (Worker("ann", frozenset({"body"})),), ("bay",), jobs, **fields)


def bookings(*turns, every=4 * DAY, is_promised=True, work=3 * DAY):
    """A booking every four days, one after another of these turns, nine days before it comes; none of today."""
    count = 24
    return Bookings(
        tuple(
            Booking(MONDAY - (count - n) * every, 9 * DAY, turns[n % len(turns)], is_promised, {"body": work})
            for n in range(count)
        ),
        MONDAY,
    )


def ready_days(asked, record, job="one", **fields):
    prepared = prepare(with_room_for(asked, record))
    found = forecast(prepared, samples=300, spreads=CERTAIN, bookings=record, **fields)
    return (found.ready[:, found.jobs.index(job)] - MONDAY.timestamp()) / DAY.total_seconds()


def test_a_coach_that_waits_is_ready_later_where_later_bookings_go_first():
    days = ready_days(problem(coach("one")), bookings(1, 5))

    # It begins on day 20. In its way are coaches that come between day 17 and 29, so those booked between day 8 and 20.
    # One in eight days goes first: 1.5 are expected, none comes in exp(-1.5) of the courses, and in some more, as how
    # often coaches are booked is not known for sure.
    assert np.mean(days == 30) == pytest.approx(np.exp(-1.5), abs=0.08)
    assert np.all(days >= 30)
    assert days.mean() > 33


def test_what_runs_already_is_pushed_by_nobody():
    running = coach("one", arrives=MONDAY - DAY, started_at=MONDAY - DAY, fixed_workers=("ann",))
    running = replace(running, bay="bay", is_in_bay=True)

    assert set(ready_days(problem(running), bookings(1))) == {9}


def test_later_bookings_of_the_same_turn_go_first_by_arrival_where_nobody_is_promised_anything():
    waiting = coach("one", promised_at=None)

    assert ready_days(problem(waiting), bookings(5, is_promised=False)).mean() > 31
    assert set(ready_days(problem(waiting), bookings(5))) == {30}, "it will be promised before they are"
    assert set(ready_days(problem(coach("one")), bookings(5))) == {30}


def test_only_coaches_of_a_later_turn_are_pushed():
    first, last = coach("one", turn=2, arrives=MONDAY), coach("two", turn=6)
    record = bookings(4)

    assert set(ready_days(problem(first, last), record)) == {10}
    assert ready_days(problem(first, last), record, job="two").mean() > 31


def test_more_bookings_push_further():
    often, rarely = (ready_days(problem(coach("one")), bookings(1, every=every * DAY)) for every in (4, 12))

    assert often.mean() > rarely.mean() > 30


def test_the_same_seed_draws_the_same_coaches_on_one_thread_or_two():
    asked, record = problem(coach("one")), bookings(1, 3)

    first = ready_days(asked, record, seed=4)

    assert np.array_equal(ready_days(asked, record, seed=4, threads=1), first)
    assert not np.array_equal(ready_days(asked, record, seed=5), first)


def test_no_plan_counts_on_them():
    asked = problem(coach("one"), coach("two", turn=3))
    roomy = with_room_for(asked, bookings(1))

    planned = plan(roomy).jobs

    assert {key for key in planned if not key.startswith(SLOT)} == {"one", "two"}
    assert {key: planned[key].ready_at for key in ("one", "two")} == prepare(asked).ready()
    assert prepare(roomy).ready(Change(order=("two",)))["one"] == prepare(asked).ready()["one"]


def test_a_short_record_makes_no_room_and_so_does_an_adopted_order():
    asked, record = problem(coach("one")), bookings(1)

    few = replace(record, record=record.record[-FEWEST_BOOKINGS:])

    assert with_room_for(asked, few) is asked
    adopted = replace(asked, turns=(("one", "one work"),))
    assert with_room_for(adopted, record) is adopted


def test_what_a_shop_writes_down_on_its_first_day_says_nothing_of_how_often_it_books():
    at_once = tuple(replace(each, booked_at=MONDAY - 90 * DAY) for each in bookings(1).record)

    record = Bookings(at_once, MONDAY)

    assert record.count == 0
    assert not record.is_enough


def test_a_booking_says_what_the_coach_takes():
    tasks = (
        Task("open", "Open", "labour", 4 * HOUR, (("body", 2),)),
        Task("hidden", "Hidden", "labour", 10 * HOUR, (("frame", 1),), chance=0.4),
        Task("dry", "Dry", "wait", 50 * HOUR, is_drying=True, equipment=(("blower", 2),)),
        Task("cure", "Cure", "wait", 24 * HOUR),
    )
    job = replace(coach("one"), tasks=tasks)

    found = booking_of(job, MONDAY)

    assert found == Booking(
        booked_at=MONDAY, lead=20 * DAY, priority=5, is_promised=True, labour={"body": 8 * HOUR, "frame": 4 * HOUR},
        held={"blower": 100 * HOUR}, drying=50 * HOUR, cure=24 * HOUR,
    )  # fmt: skip


def test_their_equipment_is_held_too():
    """Two blowers: a coach to come that holds both keeps one that dries waiting."""
    dries = Task("dry", "Dry", "wait", 5 * DAY, is_drying=True, equipment=(("blower", 2),))
    waiting = replace(coach("one"), tasks=(dries,))
    roomy = replace(problem(waiting), bays=("bay", "other"), equipment=(("blower", 2),))
    record = bookings(1, work=HOUR)
    holding = [replace(each, held={"blower": 12 * DAY}, drying=6 * DAY) for each in record.record]

    with_blowers = ready_days(roomy, replace(record, record=tuple(holding)))

    assert set(ready_days(roomy, record)) == {25}
    assert with_blowers.mean() > 25.5


@pytest.mark.parametrize("jobs", [1, 40])
def test_a_large_shop_gets_fewer_places(jobs):
    asked = problem(*(coach(f"job{number}") for number in range(jobs)))

    places = len(with_room_for(asked, bookings(1)).jobs) - jobs

    assert places == {1: 12, 40: 4}[jobs]
