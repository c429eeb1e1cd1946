"""Forecasts as rows: worked out from all readings, stored once, never replaced by an older computation."""

import uuid
from datetime import datetime, timedelta

import pytest

from jobs import kinds
from jobs.calc.moisture.drying import PLANNING_PRIORS, prior_from_history
from jobs.models import JournalEntry, Reaction, StationForecast
from jobs.services.drying import (
    corrected,
    limit_for,
    limits_of,
    moisture_of,
    moisture_or_end,
    store_drying,
    work_out_drying,
)
from jobs.services.moisture import Air, NewReading, take_round
from shopfloor.demo.telling import drain
from tests.factories import (
    NOON,
    CoachFactory,
    JobFactory,
    PersonFactory,
    ReadingFactory,
    ReadingRoundFactory,
    StationFactory,
)

pytestmark = pytest.mark.django_db

EVERY_H = 12.0
DRYING = (35.0, 33.0, 31.0, 29.2, 27.6)
SHOP_AIR, RAINY_AIR = (24.0, 40.0), (20.0, 92.0)


@pytest.fixture
def job():
    return JobFactory(arrived=True)


@pytest.fixture
def station(job):
    return StationFactory(job=job)


def read(job, values, *, air=SHOP_AIR, until=NOON):
    """One round every half day, the last one at until; values: per station what each round shows, None for skipped."""
    person = PersonFactory(shop=job.shop)
    rounds = max(len(shown) for shown in values.values())
    for number in range(rounds):
        at = until - timedelta(hours=EVERY_H * (rounds - 1 - number))
        now_shown = {station: shown[number] for station, shown in values.items() if shown[number] is not None}
        take_round(
            job_id=job.pk,
            key=uuid.uuid4(),
            taken_at=at,
            air=Air(*air),
            cavity_air=None,
            readings=[
                NewReading(station.pk, value) if isinstance(value, str) else NewReading(station.pk, "value", value)
                for station, value in now_shown.items()
            ],
            by=person,
            now=at,
        )


def work_through(now=NOON):
    """Run what is due, and fail the test if any of it failed."""
    drain(now)
    assert not Reaction.objects.exclude(last_error="").exists()


def history(job, count, *, rate_per_h=0.05, readings=4, outcome="date", wall_build=None, **station_fields):
    """Stations of an earlier coach of the shop, each with a forecast of that rate."""
    coach = CoachFactory(shop=job.shop, wall_build=wall_build or job.coach.wall_build)
    earlier = JobFactory(shop=job.shop, coach=coach, arrived=True)
    rounds = [ReadingRoundFactory(job=earlier) for _ in range(readings)]
    for _ in range(count):
        station = StationFactory(job=earlier, **station_fields)
        for taken in rounds:
            ReadingFactory(station=station, round=taken)
        StationForecast.objects.create(
            station=station,
            round=rounds[-1],
            worked_out_at=NOON,
            outcome=outcome,
            reason="",
            limit_pct=19.0,
            equilibrium_pct=8.0,
            rate_low_per_h=rate_per_h / 2,
            rate_per_h=rate_per_h,
            rate_high_per_h=rate_per_h * 2,
            rate_origin="",
            dry_even_at=NOON if outcome == "date" else None,
            curve=[],
        )


class TestStoring:
    @pytest.mark.parametrize(
        ("shown", "air", "outcome"),
        [
            (DRYING, SHOP_AIR, "date"),
            ((30.0,), SHOP_AIR, "date"),
            ((16.0, 15.5, 15.0, 14.6), SHOP_AIR, "dry"),
            (("low", "low"), SHOP_AIR, "dry"),
            (("high", "high", "high"), SHOP_AIR, "too_few"),
            ((20.0, 21.0, 22.0, 24.0, 26.0), SHOP_AIR, "rising"),
            ((26.0, 26.0, 26.1, 25.9, 26.0), SHOP_AIR, "stalled"),
            ((26.0, 25.5, 25.0), RAINY_AIR, "near_equilibrium"),
        ],
    )
    def test_each_outcome_is_stored_with_its_reason_and_a_date_only_when_it_dries(
        self, job, station, shown, air, outcome
    ):
        read(job, {station: shown}, air=air)

        work_through()

        stored = StationForecast.objects.get()
        assert (stored.station, stored.outcome, stored.worked_out_at) == (station, outcome, NOON)
        assert stored.round == job.rounds.latest("taken_at")
        assert stored.reason
        assert (stored.dry_even_at is not None) == (outcome == "date")
        assert stored.needs_a_hand == (outcome in {"rising", "stalled", "near_equilibrium"})
        assert 0 < stored.rate_low_per_h <= stored.rate_per_h <= stored.rate_high_per_h

    def test_the_dates_lie_ahead_and_safe_is_not_before_even(self, job, station):
        read(job, {station: DRYING})

        work_through()

        stored = StationForecast.objects.get()
        assert NOON < stored.dry_even_at <= stored.dry_safe_at < NOON + timedelta(days=30)
        assert (stored.dry_even_at.second, stored.dry_safe_at.second) == (0, 0)

    def test_the_curve_goes_in_time_from_the_first_reading_past_the_even_date(self, job, station):
        read(job, {station: DRYING})

        work_through()

        stored = StationForecast.objects.get()
        times = [datetime.fromisoformat(point[0]) for point in stored.curve]
        assert times == sorted(times)
        assert times[0] == NOON - timedelta(hours=4 * EVERY_H)
        assert times[-1] >= stored.dry_even_at
        assert all(low <= median <= high for _, low, median, high in stored.curve)

    def test_each_station_has_one_row_however_often_it_is_read(self, job, station):
        read(job, {station: DRYING[:3]}, until=NOON - timedelta(hours=EVERY_H))
        work_through(NOON - timedelta(hours=EVERY_H))
        first = StationForecast.objects.get()

        read(job, {station: DRYING[3:4]})
        work_through()

        second = StationForecast.objects.get()
        assert second.pk == first.pk
        assert second.round != first.round
        assert second.worked_out_at == NOON

    def test_a_station_that_was_skipped_keeps_the_round_of_its_own_last_reading(self, job, station):
        other = StationFactory(job=job)
        read(job, {station: DRYING, other: (*DRYING[:3], None, None)})

        work_through()

        assert StationForecast.objects.get(station=station).round == job.rounds.order_by("taken_at")[4]
        assert StationForecast.objects.get(station=other).round == job.rounds.order_by("taken_at")[2]

    def test_working_it_out_twice_gives_the_same(self, job, station):
        read(job, {station: DRYING})

        first, second = (work_out_drying(job, now=NOON) for _ in range(2))

        assert first[0].forecast == second[0].forecast
        assert not StationForecast.objects.exists()  # it writes nothing by itself

    def test_without_stations_or_rounds_there_is_nothing_to_do(self, job):
        assert work_out_drying(job, now=NOON) == []
        StationFactory(job=job)
        assert work_out_drying(job, now=NOON) == []
        ReadingRoundFactory(job=job)
        assert work_out_drying(job, now=NOON) == []

    def test_a_station_not_read_yet_has_no_forecast(self, job, station):
        StationFactory(job=job)
        read(job, {station: DRYING})

        work_through()

        assert StationForecast.objects.get().station == station


class TestOrder:
    def test_an_older_computation_never_replaces_a_newer_one(self, job, station):
        read(job, {station: DRYING})
        older = work_out_drying(job, now=NOON)
        newer = work_out_drying(job, now=NOON + timedelta(hours=1))
        store_drying(job, newer, cause="round_taken", now=NOON + timedelta(hours=1))
        before = StationForecast.objects.values().get()
        entries = job.entries.filter(kind=kinds.DRYING_WORKED_OUT).count()

        store_drying(job, older, cause="round_taken", now=NOON)

        assert StationForecast.objects.values().get() == before
        assert job.entries.filter(kind=kinds.DRYING_WORKED_OUT).count() == entries

    def test_an_older_one_does_not_remove_a_newer_forecast_either(self, job, station):
        read(job, {station: DRYING})
        store_drying(job, work_out_drying(job, now=NOON), cause="round_taken", now=NOON)

        store_drying(job, [], cause="round_taken", now=NOON - timedelta(minutes=1))

        assert StationForecast.objects.count() == 1

    def test_another_coachs_newer_forecast_is_no_matter(self, job, station):
        read(job, {station: DRYING})
        history(job, 1)
        StationForecast.objects.update(worked_out_at=NOON + timedelta(days=1))

        store_drying(job, work_out_drying(job, now=NOON), cause="round_taken", now=NOON)

        assert StationForecast.objects.filter(station=station).exists()

    def test_a_round_entered_late_is_worked_into_its_place(self, job, station):
        read(job, {station: DRYING})
        latest = job.rounds.latest("taken_at")
        between = latest.taken_at - timedelta(hours=EVERY_H / 2)
        read(job, {station: (28.4,)}, until=between)

        work_through()

        assert StationForecast.objects.get().round == latest


class TestLimit:
    def test_a_panel_is_held_against_the_limit_of_panels(self, job, station):
        deck = StationFactory(job=job, layer="floor", material="osb")
        read(job, {station: (18.0, 17.5), deck: (18.0, 17.5)})

        work_through()

        frame_row, deck_row = StationForecast.objects.order_by("station__number")
        assert (frame_row.limit_pct, frame_row.outcome) == (19.0, "dry")
        assert (deck_row.limit_pct, deck_row.outcome) == (16.0, "date")

    @pytest.mark.parametrize("material", ["plywood", "osb", "panel_other"])
    def test_every_panel_has_it(self, job, material):
        limits = limits_of(job.shop)

        assert limit_for(StationFactory(job=job, material=material), limits) == limits.panel_close_in_pct

    def test_the_shops_own_limit_counts(self, job, station):
        job.shop.limits.create(key="close_in_pct", value=13.0)
        read(job, {station: (18.0, 17.5)})

        work_through()

        stored = StationForecast.objects.get()
        assert (stored.limit_pct, stored.outcome) == (13.0, "date")

    def test_a_reading_is_corrected_by_the_air_that_dries_it(self, station):
        in_shop = ReadingFactory(station=station, meter_pct=20.0, round__air_temp_c=21.0)
        in_cold_cavity = ReadingFactory(
            station=station,
            meter_pct=20.0,
            round__air_temp_c=21.0,
            round__cavity_temp_c=5.0,
            round__cavity_rh_pct=80.0,
        )

        assert moisture_of(in_shop) == corrected(in_shop).mc_pct
        assert moisture_of(in_cold_cavity) > moisture_of(in_shop) + 1.0  # cold wood reads low

    def test_beyond_the_scale_the_shops_own_end_stands_for_it(self, job, station):
        job.shop.limits.create(key="meter_high_pct", value=60.0)
        low, high = (ReadingFactory(station=station, range=end, meter_pct=None) for end in ("low", "high"))

        assert (moisture_of(low), moisture_of(high)) == (None, None)
        assert (moisture_or_end(low, limits_of(job.shop)), moisture_or_end(high, limits_of(job.shop))) == (7.0, 60.0)


class TestShopHistory:
    def origin(self, job, station):
        read(job, {station: (30.0,)})
        (worked_out,) = work_out_drying(job, now=NOON)
        return worked_out.rate_origin

    def test_from_five_like_stations_on_the_shops_own_rates_count(self, job, station):
        history(job, 5)

        assert self.origin(job, station) == "shop history of 5 stations"

    def test_they_move_the_forecast(self, job, station):
        read(job, {station: (30.0,)})
        (planned,) = work_out_drying(job, now=NOON)
        history(job, 9, rate_per_h=0.05)

        (known,) = work_out_drying(job, now=NOON)

        expected = prior_from_history([0.05] * 9, PLANNING_PRIORS["framing"])
        assert expected.median_per_h > PLANNING_PRIORS["framing"].median_per_h
        assert known.forecast.rate_median_per_h > 1.5 * planned.forecast.rate_median_per_h
        assert known.forecast.dry_even_h < planned.forecast.dry_even_h

    @pytest.mark.parametrize(
        "unlike",
        [
            {"layer": "skin"},
            {"material": "pine_white"},
            {"wall_build": "bonded"},
            {"readings": 3},
            {"outcome": "stalled"},
        ],
    )
    def test_unlike_stations_do_not_count(self, job, station, unlike):
        history(job, 4)
        history(job, 3, **unlike)

        assert self.origin(job, station) == PLANNING_PRIORS["framing"].origin

    def test_another_shops_stations_do_not_count(self, job, station):
        history(JobFactory(arrived=True), 7)

        assert self.origin(job, station) == PLANNING_PRIORS["framing"].origin

    def test_the_coachs_own_stations_do_not_count_twice(self, job, station):
        others = [StationFactory(job=job) for _ in range(6)]
        read(job, dict.fromkeys([station, *others], DRYING))
        work_through()

        assert {each.rate_origin for each in work_out_drying(job, now=NOON)} == {PLANNING_PRIORS["framing"].origin}


class TestEntry:
    def test_it_says_of_each_station_what_it_came_to(self, job, station):
        wet, skipped = StationFactory(job=job), StationFactory(job=job, material="osb")
        read(job, {station: DRYING, wet: ("high",) * 5, skipped: (14.0, None, None, None, None)})

        work_through()

        entry = JournalEntry.objects.filter(kind=kinds.DRYING_WORKED_OUT).latest("number")
        stored = StationForecast.objects.get(station=station)
        latest = station.readings.select_related("round", "station").latest("round__taken_at")
        assert entry.person is None
        drying, beyond, panel = entry.data["stations"]
        assert drying == {
            "station": 1,
            "readings": 5,
            "outcome": "date",
            "range": "value",
            "mc_pct": pytest.approx(corrected(latest).mc_pct),
            "limit_pct": 19.0,
            "dry_even_at": stored.dry_even_at.isoformat(),
            "dry_safe_at": stored.dry_safe_at.isoformat(),
        }
        assert (beyond["outcome"], beyond["range"], beyond["mc_pct"]) == ("too_few", "high", None)
        assert (beyond["dry_even_at"], beyond["dry_safe_at"]) == (None, None)
        assert (panel["outcome"], panel["mc_pct"], panel["limit_pct"], panel["readings"]) == ("dry", 14.0, 16.0, 1)

    def test_each_round_and_each_given_up_station_has_one(self, job, station):
        read(job, {station: DRYING[:2]})

        work_through()

        assert JournalEntry.objects.filter(kind=kinds.DRYING_WORKED_OUT).count() == 2
