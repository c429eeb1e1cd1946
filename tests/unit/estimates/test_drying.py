"""A drying wait lasts as long as the wood says, and moves the coach's date."""

from datetime import timedelta

import numpy as np
import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from estimates.drying import SHORTEST, Lasting, wait_lasts, wait_spread
from estimates.inputs import read_shop
from estimates.models import DateChange, JobForecast
from estimates.odds import drying_spreads
from estimates.reasons import reason_for
from jobs.calc.faces import Face, Place
from jobs.models import ApprovalRequest, Decision, Operation, Station, StationForecast
from jobs.services.approvals import Answer, record_decision
from jobs.services.remedies import OwnRemedy
from jobs.services.verdicts import Evidence
from jobs.services.work import start_operation
from shopfloor.demo.telling import drain
from tests.factories import NOON, FindingFactory, ReadingFactory, StationFactory
from tests.scenes import find_rot, mark, opened_coach, walk

pytestmark = pytest.mark.django_db

STANDARD = timedelta(hours=48)
HOUR = timedelta(hours=1)


@pytest.fixture
def finding():
    return FindingFactory(kind="stained_framing")


def station(finding, outcome="date", *, dry_in=30 * HOUR, **fields):
    made = StationFactory(job=finding.job, **fields)
    reading = ReadingFactory(station=made)
    StationForecast.objects.create(
        station=made,
        round=reading.round,
        worked_out_at=NOON,
        outcome=outcome,
        reason="as read",
        limit_pct=19.0,
        equilibrium_pct=9.0,
        rate_low_per_h=0.01,
        rate_per_h=0.02,
        rate_high_per_h=0.03,
        rate_origin="a test",
        dry_even_at=NOON + dry_in if outcome == "date" else None,
        curve=[],
    )
    return made


def lasts(finding, stations, started_at=None):
    return wait_lasts(finding, stations, standard=STANDARD, started_at=started_at, now=NOON)


class TestDuration:
    def test_without_a_station_at_the_place_the_standard_hours_hold(self, finding):
        elsewhere = station(finding, face="floor")

        assert lasts(finding, []) == Lasting(STANDARD)
        assert lasts(finding, [elsewhere]) == Lasting(STANDARD)
        assert lasts(finding, [StationFactory(job=finding.job)]) == Lasting(STANDARD)

    def test_the_slowest_station_at_the_place_says_when_it_ends_whenever_it_begins(self, finding):
        stations = [station(finding), station(finding, dry_in=70 * HOUR), station(finding, "dry")]

        assert lasts(finding, stations) == Lasting(SHORTEST, until=NOON + 70 * HOUR)

    def test_a_running_wait_counts_from_its_start(self, finding):
        assert lasts(finding, [station(finding)], started_at=NOON - 20 * HOUR) == Lasting(50 * HOUR)

    def test_dry_wood_ends_a_running_wait_now_and_leaves_a_look_for_one_to_come(self, finding):
        dry = station(finding, "dry")

        assert lasts(finding, [dry], started_at=NOON - 20 * HOUR) == Lasting(20 * HOUR)
        assert lasts(finding, [dry]) == Lasting(SHORTEST, until=NOON)

    def test_a_date_gone_by_without_a_reading_is_now(self, finding):
        gone = station(finding, dry_in=-5 * HOUR)

        assert lasts(finding, [gone], started_at=NOON - 9 * HOUR) == Lasting(9 * HOUR)
        assert lasts(finding, [gone]) == Lasting(SHORTEST, until=NOON)

    @pytest.mark.parametrize("outcome", ["rising", "stalled", "near_equilibrium", "too_few"])
    def test_one_station_without_a_date_has_the_standard_hours_count_from_now_or_the_begin(self, finding, outcome):
        stuck = station(finding, outcome)

        assert lasts(finding, [stuck]) == Lasting(STANDARD, until=NOON)
        assert lasts(finding, [station(finding), stuck]) == Lasting(STANDARD, until=NOON + 30 * HOUR)
        assert lasts(finding, [stuck], started_at=NOON - 20 * HOUR) == Lasting(20 * HOUR + STANDARD)


def drying_coach():
    """A coach whose studs dry by a wait of 48 hours, which has begun; read twice, six hours apart."""
    scene = opened_coach(NOON)
    finding = find_rot(
        scene,
        kind="stained_framing",
        seen="Wet but hard.",
        evidence=Evidence(is_wet=True, moisture_pct=30.0),
        remedy=OwnRemedy("Dry it", 1.0, scene.shop.skills.first(), wait_hours=48.0),
    )
    drain(NOON)
    asked = ApprovalRequest.objects.get()
    record_decision(
        request_id=asked.pk,
        seen_sha256=asked.offer_sha256,
        answer=Answer(asked.remedy, scene.owner.name, scene.owner, Decision.Channel.LINK),
        by=None,
        now=NOON,
    )
    drain(NOON)
    return scene, finding, mark(scene, left_mm=900.0, top_mm=75.0)


@pytest.fixture(scope="module")
def kept_drying(keeper):
    with time_machine.travel(NOON, tick=False):
        return keeper(drying_coach)


@pytest.fixture
def drying(kept_drying):
    return kept_drying()


def wait_of(finding):
    return Operation.objects.get(remedy__finding=finding, kind="wait")


class TestPlan:
    def test_waiting_for_dry_makes_the_wait_one_that_the_wood_ends(self, drying):
        _, finding, _ = drying

        assert finding.verdict == "wait_for_dry"
        assert wait_of(finding).is_drying

    def test_slow_wood_moves_the_ready_date_and_says_it_was_the_drying(self, drying):
        scene, _, station = drying
        before = JobForecast.objects.get(job=scene.job).expected_on

        walk(scene, NOON, {station: 30.0}, air=(20.0, 45.0))
        drain(NOON)
        walk(scene, NOON + 24 * HOUR, {station: 29.0}, air=(20.0, 45.0))
        drain(NOON + 24 * HOUR)

        forecast = StationForecast.objects.get(station=station)
        assert forecast.outcome == "date"
        assert forecast.dry_even_at > NOON + 72 * HOUR
        assert JobForecast.objects.get(job=scene.job).expected_on > before
        change = DateChange.objects.filter(job=scene.job).latest("pk")
        assert change.cause == DateChange.Cause.DRYING
        assert change.words == "Drying, by the latest readings"

    def test_a_station_that_gets_wetter_is_named_as_what_holds_it(self, drying):
        scene, _, station = drying
        for number, value in enumerate([24.0, 27.0, 31.0]):
            walk(scene, NOON + 12 * number * HOUR, {station: value}, air=(20.0, 45.0))
            drain(NOON + 12 * number * HOUR)

        entry = scene.job.entries.filter(kind="drying_worked_out").latest("number")
        assert StationForecast.objects.get(station=station).outcome == "rising"
        assert reason_for(scene.job, entry, until=NOON, due_at=NOON).words == "Drying: station 1 not drying"

    def test_the_same_number_of_queries_for_one_station_and_for_twenty(self, drying):
        scene, _, station = drying
        with CaptureQueriesContext(connection) as one:
            read_shop(scene.shop, NOON).schedule()
        for _ in range(19):
            mark(scene)

        with CaptureQueriesContext(connection) as twenty:
            snapshot = read_shop(scene.shop, NOON)
            assert snapshot.schedule().jobs

        assert len(twenty) == len(one)
        assert len(snapshot.stations[scene.job.pk]) == 20
        assert station.place_face == Face.FRONT


def test_a_station_a_hands_width_off_still_speaks_for_a_place():
    place = Place(Face.FRONT, 1000, 1000, 500, 500)

    assert place.holds("front", 860, 1000)
    assert place.holds("front", 1600, 1640)
    assert not place.holds("front", 840, 1000)
    assert not place.holds("front", 1200, 1660)
    assert not place.holds("rear", 1200, 1200)


def test_a_wait_for_dry_that_has_begun_is_planned_to_the_forecast(drying):
    scene, finding, station = drying
    with time_machine.travel(NOON, tick=False):
        for operation in scene.job.operations.filter(phase=1):
            start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
    walk(scene, NOON, {station: 30.0})
    drain(NOON)
    snapshot = read_shop(scene.shop, NOON)

    wait = wait_of(finding)
    planned = {task.key: task for task in snapshot.schedule().jobs[f"job{scene.job.pk}"].tasks}[f"operation{wait.pk}"]

    dry_at = StationForecast.objects.get(station=station).dry_even_at
    assert abs(planned.end_at - dry_at) < timedelta(seconds=1)


def test_a_wait_to_come_ends_when_the_wood_is_dry_however_late_it_begins_and_whenever_it_is_planned(drying):
    scene, finding, station = drying
    walk(scene, NOON, {station: 30.0})
    drain(NOON)
    dry_at = StationForecast.objects.get(station=station).dry_even_at
    wait = f"operation{wait_of(finding).pk}"

    def planned(now):
        tasks = read_shop(scene.shop, now).schedule().jobs[f"job{scene.job.pk}"].tasks
        return next(task for task in tasks if task.key == wait)

    first, later = planned(NOON), planned(NOON + 6 * HOUR)
    assert first.start_at > NOON
    assert abs(first.end_at - dry_at) < timedelta(seconds=1)
    assert abs(later.end_at - dry_at) < timedelta(seconds=1)


def test_the_wait_is_as_sure_as_the_last_station(drying):
    scene, finding, station = drying
    for number, value in enumerate([30.0, 26.0]):
        walk(scene, NOON + 12 * number * HOUR, {station: value})
        drain(NOON + 12 * number * HOUR)
    now = NOON + 12 * HOUR
    forecast = StationForecast.objects.get(station=station)
    [read] = Station.objects.filter(pk=station.pk).select_related("forecast")

    spread = wait_spread(finding, [read], started_at=None, now=now)

    even, safe = spread.at(np.array([0.5, 0.8])) * ((forecast.dry_even_at - now) / HOUR)
    assert even == pytest.approx((forecast.dry_even_at - now) / HOUR)
    assert safe == pytest.approx((forecast.dry_safe_at - now) / HOUR, rel=1e-4)
    spreads = dict(drying_spreads(read_shop(scene.shop, now)))
    assert spreads == {f"operation{wait_of(finding).pk}": spread}
    assert wait_spread(finding, [], started_at=None, now=now) is None
