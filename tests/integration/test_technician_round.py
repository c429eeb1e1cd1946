"""Walking a round: the air once, then one value a station."""

import uuid
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import Error, IntegrityError, transaction
from django.urls import reverse
from django.utils.html import escape

from jobs import kinds
from jobs.calc.moisture.air import relative_humidity_by_wet_bulb_pct, standard_pressure_pa
from jobs.models import JournalEntry, Reading, ReadingRound, ReadingStrike
from tests.factories import (
    NOON,
    JobFactory,
    PersonFactory,
    ReadingFactory,
    ReadingRoundFactory,
    StationFactory,
)

pytestmark = pytest.mark.django_db

HALF_PAST_ELEVEN = "2026-03-04T11:30"  # at the shop; NOON is twelve there


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def technician(client):
    person = PersonFactory()
    client.force_login(person)
    return person


@pytest.fixture
def job(technician):
    return JobFactory(shop=technician.shop, in_bay=True)


@pytest.fixture
def metric(job):
    job.shop.units = "metric"
    job.shop.save()


@pytest.fixture
def station(job):
    return StationFactory(job=job)


@pytest.fixture
def post(client, job, station):
    """Send a good round with one reading, with some fields changed."""

    def send(**changes):
        return client.post(form_of(job), good_fields(station) | changes)

    return send


def form_of(job):
    return reverse("jobs:round-take", args=[job.pk])


def good_fields(station):
    return {
        "key": str(uuid.uuid4()),
        "taken_at": HALF_PAST_ELEVEN,
        "air_temp": "75.2",
        "rh_pct": "40",
        "wet_bulb": "",
        "cavity_temp": "",
        "cavity_rh_pct": "",
    } | row(station, "value", "24.5")


def row(station, range_, text=""):
    """The two fields of a station."""
    return {f"range_{station.pk}": range_, f"reading_{station.pk}": text}


def said_by(client, response):
    return [str(message) for message in client.get(response.url).context["messages"]]


def assert_refused(response, field, words, sent):
    """Said beside its field and at the head, what was typed is kept, nothing is stored."""
    form = response.context["form"]
    assert response.status_code == 422
    assert list(form.errors) == [field]
    said = form.errors[field][0]
    assert words in said
    assert response.text.count(escape(said)) == 2
    assert {name: str(form[name].value()) for name in sent} == sent
    assert_nothing_stored()


def assert_nothing_stored():
    assert not ReadingRound.objects.exists()
    assert not Reading.objects.exists()
    assert not JournalEntry.objects.exists()


class TestForm:
    def test_it_carries_a_fresh_mark_and_the_shops_time(self, client, job, station):
        first, second = (client.get(form_of(job)).context["form"] for _ in range(2))

        assert uuid.UUID(str(first["key"].value())) != uuid.UUID(str(second["key"].value()))
        assert first["taken_at"].value() == "2026-03-04T12:00"

    def test_it_lists_the_stations_in_use_with_what_they_read_last(self, client, job, station):
        ReadingFactory(station=station, meter_pct=31.5, round__taken_at=NOON - timedelta(hours=5))
        ReadingFactory(station=station, meter_pct=27.0, round__taken_at=NOON - timedelta(hours=2))
        StationFactory(job=job, retired_at=NOON, retired_because="wrong")
        unread = StationFactory(job=job)

        page = client.get(form_of(job))

        assert [each.station for each in page.context["rows"]] == [station, unread]
        assert [each.before_words for each in page.context["rows"]] == ["27 %", ""]
        assert "Last: <strong>27 %</strong>" in page.text
        assert "Not read before" in page.text

    def test_without_stations_it_leads_to_marking_one(self, client, job):
        page = client.get(form_of(job)).text

        assert reverse("jobs:station-mark", args=[job.pk]) in page
        assert "Store this round" not in page

    @pytest.mark.parametrize(("units", "sign"), [("us", "°F"), ("metric", "°C")])
    def test_it_asks_in_the_shops_units(self, client, job, station, units, sign):
        job.shop.units = units
        job.shop.save()

        assert f"Air, {sign}" in client.get(form_of(job)).text

    def test_it_names_the_rounds_that_have_come_through(self, client, job, station):
        stored = ReadingRoundFactory(job=job)
        foreign = ReadingRoundFactory()

        page = client.get(form_of(job)).text

        assert str(stored.key) in page
        assert str(foreign.key) not in page

    @pytest.mark.parametrize("method", ["put", "patch", "delete"])
    def test_other_methods_are_refused(self, client, job, method):
        assert getattr(client, method)(form_of(job)).status_code == 405


class TestStoring:
    def test_a_round_is_stored_with_air_and_readings(self, client, technician, job, station, post):
        response = post()

        taken = ReadingRound.objects.get()
        assert response.status_code == 302
        assert response.url == reverse("jobs:drying-detail", args=[job.pk])
        assert said_by(client, response) == ["1 reading stored. Drying is being worked out."]
        assert (taken.job, taken.taken_by) == (job, technician)
        assert taken.taken_at == datetime(2026, 3, 4, 17, 30, tzinfo=UTC)
        assert taken.air_temp_c == pytest.approx(24.0)
        assert taken.rh_pct == 40
        assert (taken.cavity_temp_c, taken.cavity_rh_pct) == (None, None)
        reading = taken.readings.get()
        assert (reading.station, reading.range, reading.meter_pct) == (station, "value", 24.5)

    def test_value_low_high_skip_and_empty_each_do_what_they_say(self, client, job, post):
        low, high, skipped, empty = (StationFactory(job=job) for _ in range(4))

        response = post(**row(low, "low"), **row(high, "high"), **row(skipped, "skip", "30"), **row(empty, "value", ""))

        stored = ReadingRound.objects.get().readings.order_by("station__number")
        assert said_by(client, response) == ["3 readings stored. Drying is being worked out."]
        assert [(each.station.number, each.range, each.meter_pct) for each in stored] == [
            (1, "value", 24.5),
            (low.number, "low", None),
            (high.number, "high", None),
        ]

    def test_beyond_the_scale_takes_no_number(self, station, post):
        post(**row(station, "high", ""))

        reading = Reading.objects.get()
        assert (reading.range, reading.meter_pct) == ("high", None)

    def test_a_number_alone_is_a_value(self, client, job, station):
        fields = good_fields(station)
        del fields[f"range_{station.pk}"]

        client.post(form_of(job), fields)

        assert Reading.objects.get().range == "value"

    @pytest.mark.parametrize(("typed", "stored"), [("18,5", 18.5), ("0", 0.0), ("200", 200.0), (" 7 ", 7.0)])
    def test_a_value_may_have_a_comma_and_reach_both_ends(self, station, post, typed, stored):
        post(**row(station, "value", typed))

        assert Reading.objects.get().meter_pct == stored

    def test_air_may_be_written_with_a_comma(self, metric, post):
        post(air_temp="21,5", rh_pct="48,5", cavity_temp="-3,5", cavity_rh_pct="88,5")

        taken = ReadingRound.objects.get()
        assert (taken.air_temp_c, taken.rh_pct) == (21.5, 48.5)
        assert (taken.cavity_temp_c, taken.cavity_rh_pct) == (-3.5, 88.5)
        assert taken.drying_air == (-3.5, 88.5)

    @pytest.mark.parametrize(("units", "lowest", "highest"), [("us", "-4", "140"), ("metric", "-20", "60")])
    def test_the_coldest_and_the_warmest_air_are_taken(self, job, post, units, lowest, highest):
        job.shop.units = units
        job.shop.save()

        post(air_temp=lowest, cavity_temp=highest, cavity_rh_pct="1", rh_pct="100")

        taken = ReadingRound.objects.get()
        assert (taken.air_temp_c, taken.cavity_temp_c) == pytest.approx((-20, 60))
        assert (taken.rh_pct, taken.cavity_rh_pct) == (100, 1)

    def test_the_journal_entry_holds_air_and_readings(self, technician, job, station, post):
        high = StationFactory(job=job)

        post(cavity_temp="68", cavity_rh_pct="70", **row(high, "high"))

        entry = JournalEntry.objects.get()
        assert (entry.job, entry.kind, entry.person, entry.at) == (job, kinds.ROUND_TAKEN, technician, NOON)
        assert datetime.fromisoformat(entry.data["taken_at"]) == datetime(2026, 3, 4, 17, 30, tzinfo=UTC)
        assert entry.data["air"] == pytest.approx({"temp_c": 24.0, "rh_pct": 40.0})
        assert entry.data["cavity_air"] == pytest.approx({"temp_c": 20.0, "rh_pct": 70.0})
        assert entry.data["readings"] == [[1, "value", 24.5], [2, "high", None]]

    def test_sent_twice_under_one_key_it_is_stored_once(self, client, job, post):
        key = str(uuid.uuid4())

        first, second = post(key=key), post(key=key)

        assert first.url == second.url
        assert said_by(client, second)[-1] == "This round was already stored."
        assert (ReadingRound.objects.count(), Reading.objects.count(), JournalEntry.objects.count()) == (1, 1, 1)

    def test_sent_twice_it_comes_through_even_when_the_second_copy_would_be_refused(self, job, station, post):
        key = str(uuid.uuid4())
        post(key=key)
        station.retired_at, station.retired_because = NOON, "wrong"
        station.save()

        assert post(key=key).status_code == 302
        assert ReadingRound.objects.count() == 1

    def test_a_round_that_was_missed_can_be_stored_between_others(self, job, post):
        ReadingRoundFactory(job=job, taken_at=NOON - timedelta(minutes=10))

        post()

        assert ReadingRound.objects.count() == 2

    def test_the_same_number_written_otherwise_is_the_same_round(self, station, post):
        key = str(uuid.uuid4())
        post(key=key, **row(station, "value", "24.5"))

        response = post(key=key, **row(station, "value", " 24.50"))

        assert response.status_code == 302
        assert ReadingRound.objects.count() == 1

    def test_another_round_typed_under_a_stored_ones_key_is_kept_and_can_be_sent(self, job, station, post):
        key = str(uuid.uuid4())
        post(key=key)

        response = post(key=key, **row(station, "value", "21.5"), taken_at="2026-03-04T11:30")

        assert response.status_code == 409
        assert "A round from this page is stored already, and this one differs." in response.text
        assert 'value="21.5"' in response.text
        assert key not in response.text
        assert ReadingRound.objects.count() == 1


class TestWetBulb:
    """A sling psychrometer gives the humidity by its two bulbs."""

    def test_the_humidity_is_worked_out_and_the_wet_bulb_kept_as_read(self, metric, post):
        assert post(air_temp="40", rh_pct="", wet_bulb="20").status_code == 302

        taken = ReadingRound.objects.get()
        assert taken.rh_pct == pytest.approx(14, abs=0.5)  # ASHRAE's printed example: 14 %
        assert (taken.air_temp_c, taken.wet_bulb_c) == (40.0, 20.0)
        assert JournalEntry.objects.get().data["air"] == {"temp_c": 40.0, "rh_pct": taken.rh_pct, "wet_bulb_c": 20.0}

    def test_it_is_read_in_the_shops_units_and_at_its_altitude(self, job, post):
        job.shop.altitude_m = 2000.0
        job.shop.save()

        post(air_temp="75.2", rh_pct="", wet_bulb="60.8")

        taken = ReadingRound.objects.get()
        assert taken.wet_bulb_c == pytest.approx(16.0)
        assert taken.rh_pct == pytest.approx(
            relative_humidity_by_wet_bulb_pct(24.0, 16.0, standard_pressure_pa(2000.0)), abs=1e-9
        )
        assert taken.rh_pct > relative_humidity_by_wet_bulb_pct(24.0, 16.0) + 1

    def test_a_wick_as_warm_as_the_air_means_saturated_air(self, post):
        post(rh_pct="", wet_bulb="75.2")

        assert ReadingRound.objects.get().rh_pct == pytest.approx(100)

    def test_without_it_nothing_is_kept(self, post):
        post()

        assert ReadingRound.objects.get().wet_bulb_c is None
        assert "wet_bulb_c" not in JournalEntry.objects.get().data["air"]

    @pytest.mark.parametrize(
        ("changes", "field", "words"),
        [
            ({"wet_bulb": "60"}, "wet_bulb", "Give the humidity or the wet bulb, not both"),
            ({"rh_pct": "", "wet_bulb": "76"}, "wet_bulb", "never warmer than the air"),
            ({"rh_pct": "", "wet_bulb": "31"}, "wet_bulb", "Below 32 °F the wick freezes"),
            ({"rh_pct": "", "wet_bulb": "44"}, "wet_bulb", "it would show about 46 °F at least"),
            ({"rh_pct": "", "wet_bulb": "cold"}, "wet_bulb", "Write the temperature as a number"),
            ({"rh_pct": "damp", "wet_bulb": "60"}, "rh_pct", "Write a number, such as 48"),
            ({"rh_pct": "", "wet_bulb": "60", "air_temp": ""}, "air_temp", "Read the thermometer"),
        ],
    )
    def test_bulbs_that_cannot_be_are_refused_beside_their_field(self, station, post, changes, field, words):
        sent = good_fields(station) | changes

        response = post(**sent)

        assert_refused(response, field, words, sent)

    def test_the_browser_does_not_insist_on_the_humidity(self, client, job, station):
        page = client.get(form_of(job)).text

        assert 'name="air_temp" inputmode="decimal" autocomplete="off" required' in page
        assert "required" not in page.partition('name="rh_pct"')[2].partition(">")[0]


class TestTime:
    def test_the_minute_the_coach_came_is_early_enough(self, post):
        post(taken_at="2026-03-02T12:00")

        assert ReadingRound.objects.count() == 1

    def test_a_clock_a_little_ahead_is_no_trouble(self, post):
        post(taken_at="2026-03-04T12:05")

        assert ReadingRound.objects.count() == 1

    def test_seconds_from_a_phone_are_left_out(self, post):
        post(taken_at="2026-03-04T11:30:59")

        assert ReadingRound.objects.get().taken_at == datetime(2026, 3, 4, 17, 30, tzinfo=UTC)

    @pytest.mark.parametrize(
        ("typed", "words"),
        [
            ("", "Give date and time"),
            ("yesterday", "Write date and time"),
            ("2026-03-04", "Write date and time"),
            ("2026-02-30T07:30", "Write date and time"),
            ("2026-03-04T25:00", "Write date and time"),
            ("2026-03-02T11:59", "before the coach came"),
            ("0001-01-01T00:00", "before the coach came"),
            ("2026-03-04T12:06", "still to come"),
            ("9999-12-31T23:59", "Write date and time"),
        ],
    )
    def test_a_time_that_cannot_be_is_refused(self, station, post, typed, words):
        sent = good_fields(station) | {"taken_at": typed}

        response = post(**sent)

        assert_refused(response, "taken_at", words, sent)

    @pytest.mark.parametrize("zone", ["Europe/Berlin", "America/Chicago", "Pacific/Auckland"])
    @pytest.mark.parametrize("typed", ["0001-01-01T00:00", "9999-12-31T23:59"])
    def test_the_ends_of_the_calendar_are_refused_in_any_zone(self, job, post, zone, typed):
        job.shop.time_zone = zone
        job.shop.save()

        response = post(taken_at=typed)

        assert response.status_code == 422
        assert list(response.context["form"].errors) == ["taken_at"]
        assert_nothing_stored()

    def test_the_minute_of_another_round_is_refused(self, job, station, post):
        ReadingRoundFactory(job=job, taken_at=datetime(2026, 3, 4, 17, 30, tzinfo=UTC))

        response = post()

        assert response.status_code == 422
        assert "a round at that very minute already" in response.context["form"].errors["taken_at"][0]
        assert 'value="24.5"' in response.text
        assert ReadingRound.objects.count() == 1

    def test_the_same_minute_on_another_coach_is_no_trouble(self, job, post):
        ReadingRoundFactory(taken_at=datetime(2026, 3, 4, 17, 30, tzinfo=UTC))

        assert post().status_code == 302

    def test_an_hour_that_the_clock_skips_is_refused(self, station, post):
        with time_machine.travel(datetime(2026, 3, 9, 18, 0, tzinfo=UTC), tick=False):
            skipped = post(taken_at="2026-03-08T02:30")
            assert "clock skips that hour" in skipped.context["form"].errors["taken_at"][0]
            assert_nothing_stored()

            post(taken_at="2026-03-08T03:30")

        assert ReadingRound.objects.get().taken_at == datetime(2026, 3, 8, 8, 30, tzinfo=UTC)

    def test_an_hour_that_comes_twice_is_taken_as_its_first(self, client, technician, post):
        with time_machine.travel(datetime(2026, 11, 2, 18, 0, tzinfo=UTC), tick=False):
            client.force_login(technician)  # the session of March has run out
            post(taken_at="2026-11-01T01:30")

        assert ReadingRound.objects.get().taken_at == datetime(2026, 11, 1, 6, 30, tzinfo=UTC)


BAD_AIR = [
    ({"air_temp": ""}, "air_temp", "Read the thermometer, such as 72"),
    ({"air_temp": "warm"}, "air_temp", "Write the temperature as a number"),
    ({"air_temp": "nan"}, "air_temp", "Write the temperature as a number"),
    ({"air_temp": "141"}, "air_temp", "lies between -4 °F and 140 °F"),
    ({"air_temp": "-5"}, "air_temp", "lies between -4 °F and 140 °F"),
    ({"rh_pct": ""}, "rh_pct", "Give the humidity, such as 48, or the wet bulb."),
    ({"rh_pct": "damp"}, "rh_pct", "Write a number, such as 48"),
    ({"rh_pct": "100.5"}, "rh_pct", "At most 100"),
    ({"rh_pct": "-1"}, "rh_pct", "At least 1"),
    ({"cavity_temp": "70", "cavity_rh_pct": ""}, "cavity_rh_pct", "Give both for the cavity, or neither"),
    ({"cavity_temp": "", "cavity_rh_pct": "80"}, "cavity_temp", "Give both for the cavity, or neither"),
    ({"cavity_temp": "cold", "cavity_rh_pct": "80"}, "cavity_temp", "Write the temperature as a number"),
    ({"cavity_temp": "200", "cavity_rh_pct": "80"}, "cavity_temp", "lies between -4 °F and 140 °F"),
    ({"cavity_temp": "70", "cavity_rh_pct": "101"}, "cavity_rh_pct", "At most 100"),
]


class TestRefusals:
    @pytest.mark.parametrize(("changes", "field", "words"), BAD_AIR)
    def test_air_that_cannot_be_is_refused_beside_its_field(self, station, post, changes, field, words):
        sent = good_fields(station) | changes

        response = post(**sent)

        assert_refused(response, field, words, sent)

    @pytest.mark.parametrize(("typed", "field"), [("61", "air_temp"), ("-21", "air_temp"), ("72", "cavity_temp")])
    def test_a_metric_shop_is_refused_in_celsius(self, metric, station, post, typed, field):
        sent = good_fields(station) | {"air_temp": "21", "cavity_rh_pct": "50", "cavity_temp": "20"} | {field: typed}

        response = post(**sent)

        assert_refused(response, field, "lies between -20 °C and 60 °C", sent)

    def test_an_open_cavity_part_stays_open(self, post):
        assert "<details open>" in post(cavity_temp="70").text

    @pytest.mark.parametrize(
        ("typed", "words"),
        [
            ("-0.1", "cannot be below 0 %"),
            ("200.5", "hardly a reading"),
            ("wet", "Write a number, such as 18"),
            ("inf", "Write a number, such as 18"),
            ("1.234,5", "Write a number, such as 18"),
        ],
    )
    def test_a_value_that_cannot_be_is_refused_beside_its_station(self, station, post, typed, words):
        sent = good_fields(station) | row(station, "value", typed)

        response = post(**sent)

        assert_refused(response, f"reading_{station.pk}", words, sent)

    def test_one_bad_value_stores_none_of_the_good_ones(self, job, station, post):
        other = StationFactory(job=job)

        response = post(**row(other, "value", "wet"))

        assert list(response.context["form"].errors) == [f"reading_{other.pk}"]
        assert response.context["form"][f"reading_{station.pk}"].value() == "24.5"
        assert_nothing_stored()

    def test_an_unknown_range_is_refused(self, station, post):
        response = post(**row(station, "soaked", "20"))

        assert list(response.context["form"].errors) == [f"range_{station.pk}"]
        assert_nothing_stored()

    @pytest.mark.parametrize("range_", ["value", "skip"])
    def test_a_round_without_a_reading_is_refused(self, station, post, range_):
        response = post(**row(station, range_))

        assert response.status_code == 422
        assert "Nothing was read. Give at least one station a value." in response.text
        assert response.context["form"]["air_temp"].value() == "75.2"
        assert_nothing_stored()

    def test_a_number_with_beyond_the_scale_is_refused_beside_it(self, station, post):
        response = post(**row(station, "high", "40"))

        assert response.status_code == 422
        assert "Either a number or beyond the meter: rub one out." in response.text
        assert_nothing_stored()

    @pytest.mark.parametrize(
        "make",
        [lambda job: StationFactory(job=job, retired_at=NOON, retired_because="wrong"), lambda job: StationFactory()],
        ids=["given up", "of another coach"],
    )
    def test_a_reading_of_a_station_that_is_not_read_here_is_not_passed_over(self, job, post, make):
        response = post(**row(make(job), "value", "33"))

        assert response.status_code == 422
        assert "A station you read is no longer read." in response.text
        assert_nothing_stored()

    def test_a_round_of_stations_given_up_meanwhile_is_refused(self, station, post):
        station.retired_at, station.retired_because = NOON, "wrong"
        station.save()

        response = post()

        assert response.status_code == 422
        assert_nothing_stored()

    def test_a_key_of_another_coachs_round_is_refused_in_words(self, post):
        elsewhere = ReadingRoundFactory()

        response = post(key=str(elsewhere.key))

        assert response.status_code == 422
        assert "already stored for another coach" in response.text
        assert 'value="24.5"' in response.text
        assert ReadingRound.objects.get() == elsewhere

    @pytest.mark.parametrize("key", ["", "1", "x" * 4000])
    def test_a_key_that_is_none_is_replaced_so_that_the_round_can_be_sent_again(self, post, key):
        response = post(key=key)

        assert response.status_code == 422
        assert 'value="24.5"' in response.text
        assert_nothing_stored()
        post(key=str(response.context["form"]["key"].value()))
        assert ReadingRound.objects.count() == 1

    def test_a_coach_that_has_left_is_refused_in_words(self, job, post):
        job.left_bay_at = job.collected_at = NOON
        job.save()

        response = post()

        assert response.status_code == 422
        assert "while the coach is at the shop" in response.text
        assert_nothing_stored()


class TestJumps:
    """A reading that the wood hardly makes is stored once the technician says that the meter does show it."""

    @pytest.fixture
    def read_before(self, station):
        """18 %, five hours before the round that is sent."""
        return ReadingFactory(station=station, meter_pct=18.0, round__taken_at=NOON - timedelta(hours=5, minutes=30))

    def test_it_is_asked_about_beside_the_reading_and_nothing_is_stored(self, station, read_before, post):
        sent = good_fields(station) | row(station, "value", "36")

        response = post(**sent)

        form = response.context["form"]
        (said,) = form.errors[f"reading_{station.pk}"]
        assert response.status_code == 422
        assert said == (
            "From 18 % to 36 % in 5 hours: wood that is being dried hardly does that. "
            "Read it again. If the meter does show 36 %, tick it below and send again."
        )
        assert response.text.count(escape(said)) == 2
        assert f'<input type="checkbox" name="sure_{station.pk}" value="36"' in response.text
        assert "Yes, that is what the meter shows: 36 %" in response.text
        assert {name: str(form[name].value()) for name in sent} == sent
        assert Reading.objects.get() == read_before
        assert not JournalEntry.objects.exists()

    def test_once_confirmed_it_is_stored_and_the_journal_says_so(self, station, read_before, post):
        response = post(**row(station, "value", "36"), **{f"sure_{station.pk}": "36"})

        assert response.status_code == 302
        assert list(Reading.objects.values_list("meter_pct", flat=True)) == [18.0, 36.0]
        assert JournalEntry.objects.get().data["sure_of"] == [station.number]

    def test_a_confirmation_is_for_its_own_value_alone(self, station, read_before, post):
        response = post(**row(station, "value", "46"), **{f"sure_{station.pk}": "36"})

        assert response.status_code == 422
        assert 'value="46"' in response.text
        assert f'id="id_sure_{station.pk}" checked' not in response.text

    def test_a_confirmation_stays_while_something_else_is_mended(self, station, read_before, post):
        response = post(air_temp="", **row(station, "value", "36"), **{f"sure_{station.pk}": "36"})

        assert list(response.context["form"].errors) == ["air_temp"]
        assert f'id="id_sure_{station.pk}" checked' in response.text

    def test_a_fall_says_how_far_its_layer_could_have_dried(self, station, post):
        ReadingFactory(station=station, meter_pct=31.0, round__taken_at=NOON - timedelta(hours=24, minutes=30))

        response = post(**row(station, "value", "13"))

        assert (
            "From 31 % to 13 % in 24 hours: framing hardly dries below 15 % in that time."
            in response.context["form"].errors[f"reading_{station.pk}"][0]
        )

    def test_beyond_the_scale_counts_as_its_end(self, station, read_before, post):
        response = post(**row(station, "high"))
        assert "From 18 % to too wet for the meter in 5 hours" in response.text

        assert post(**row(station, "high"), **{f"sure_{station.pk}": "high"}).status_code == 302

    def test_a_round_that_was_missed_is_held_against_the_one_after_it(self, job, station, post):
        ReadingFactory(station=station, meter_pct=42.5, round__taken_at=NOON - timedelta(minutes=10))

        assert "From 24.5 % to 42.5 % in under an hour" in post().text

    def test_a_struck_reading_is_not_held_against_anything(self, technician, station, read_before, post):
        ReadingStrike.objects.create(reading=read_before, reason="Slip.", struck_by=technician, struck_at=NOON)

        assert post(**row(station, "value", "36")).status_code == 302

    def test_the_usual_is_stored_without_a_word(self, read_before, post):
        assert post().status_code == 302
        assert "sure_of" not in JournalEntry.objects.get().data


class TestDatabase:
    """What was read is evidence: the database itself refuses to change it, or to hold what cannot be."""

    @pytest.mark.parametrize("changes", [{"meter_pct": 12.0}, {"range": "low", "meter_pct": None}])
    def test_a_reading_is_never_changed(self, station, changes):
        reading = ReadingFactory(station=station)

        with pytest.raises(Error, match="never changed"), transaction.atomic():
            Reading.objects.filter(pk=reading.pk).update(**changes)

        reading.refresh_from_db()
        assert (reading.range, reading.meter_pct) == ("value", 27.0)

    @pytest.mark.parametrize("changes", [{"rh_pct": 12.0}, {"taken_at": NOON}, {"cavity_temp_c": 20.0}])
    def test_a_round_is_never_changed(self, job, changes):
        taken = ReadingRoundFactory(job=job)

        with pytest.raises(Error, match="never changed"), transaction.atomic():
            ReadingRound.objects.filter(pk=taken.pk).update(**changes)

        taken.refresh_from_db()
        assert taken.rh_pct == 45.0

    @pytest.mark.parametrize(
        "wrong",
        [
            {"rh_pct": 100.5},
            {"rh_pct": -1.0},
            {"air_temp_c": 61.0},
            {"air_temp_c": -21.0},
            {"wet_bulb_c": -0.1},
            {"wet_bulb_c": 21.1},
            {"cavity_temp_c": 20.0},
            {"cavity_rh_pct": 50.0},
            {"cavity_temp_c": 61.0, "cavity_rh_pct": 50.0},
        ],
    )
    def test_it_refuses_air_that_cannot_be(self, job, wrong):
        with pytest.raises(IntegrityError), transaction.atomic():
            ReadingRoundFactory(job=job, **wrong)

        assert not ReadingRound.objects.exists()

    @pytest.mark.parametrize(
        "wrong",
        [
            {"meter_pct": None},
            {"meter_pct": -1.0},
            {"meter_pct": 200.5},
            {"range": "high", "meter_pct": 40.0},
            {"range": "wet", "meter_pct": None},
        ],
    )
    def test_it_refuses_a_reading_that_cannot_be(self, station, wrong):
        taken = ReadingRoundFactory(job=station.job)

        with pytest.raises(IntegrityError), transaction.atomic():
            ReadingFactory(station=station, round=taken, **wrong)

        assert not Reading.objects.exists()

    def test_it_reads_a_station_once_a_round(self, station):
        reading = ReadingFactory(station=station)

        with pytest.raises(IntegrityError), transaction.atomic():
            ReadingFactory(station=station, round=reading.round)

        assert Reading.objects.count() == 1
