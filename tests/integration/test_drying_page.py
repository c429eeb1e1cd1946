"""The drying page of a coach: how it stands, its pictures, its paper, and the equipment that dries it."""

import re
import uuid
from datetime import timedelta
from io import BytesIO

import pytest
import time_machine
from django.urls import reverse
from django.utils.html import escape
from pypdf import PdfReader

from jobs import kinds
from jobs.calc.moisture import sizing
from jobs.calc.moisture.air import dew_point_c, grains_per_lb, humidity_ratio, standard_pressure_pa
from jobs.calc.moisture.airing import airing_words
from jobs.calc.moisture.wood import emc_pct
from jobs.models import JournalEntry, Placement, ReadingStrike, StationForecast
from jobs.services.moisture import Air, NewReading, take_round
from shopfloor.demo.telling import drain
from tests.factories import (
    NOON,
    FindingFactory,
    JobFactory,
    PersonFactory,
    PlacementFactory,
    ReadingFactory,
    ReadingRoundFactory,
    StationFactory,
)

pytestmark = pytest.mark.django_db

DRYING = (35.0, 33.0, 31.0, 29.2, 27.6)
STALLED = (26.0, 26.0, 26.1, 25.9, 26.0)
DRY = (16.0, 15.5, 15.0, 14.8, 14.6)
EVERY_H = 10.0
AIR = (24.0, 40.0)
PNG, SVG = b"\x89PNG\r\n\x1a\n", b"<svg"


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
def station(job):
    return StationFactory(job=job)


@pytest.fixture
def read(job, technician):
    """Walk rounds up to NOON, all stations in each; the worker answers them unless told otherwise."""

    def walk(values, *, is_answered=True, air=AIR, cavity_air=None):
        rounds = len(next(iter(values.values())))
        for number in range(rounds):
            at = NOON - timedelta(hours=EVERY_H * (rounds - 1 - number))
            take_round(
                job_id=job.pk,
                key=uuid.uuid4(),
                taken_at=at,
                air=Air(*air),
                cavity_air=Air(*cavity_air) if cavity_air else None,
                readings=[
                    NewReading(each.pk, shown[number])
                    if isinstance(shown[number], str)
                    else NewReading(each.pk, "value", shown[number])
                    for each, shown in values.items()
                ],
                by=technician,
                now=at,
            )
        if is_answered:
            drain(NOON)

    return walk


@pytest.fixture
def page(client, job):
    return lambda **headers: client.get(page_of(job), headers=headers)


def page_of(job):
    return reverse("jobs:drying-detail", args=[job.pk])


def chart_of(station, form="svg"):
    return reverse("jobs:station-chart", args=[station.pk, form])


def plan_of(job, layer="framing", form="svg"):
    return reverse("jobs:moisture-plan", args=[job.pk, layer, form])


def shop_day(at):
    """As shop_time prints it: the day at the shop (Chicago, before the clocks go forward)."""
    local = at - timedelta(hours=6)
    return f"{local:%a, %b} {local.day}"


def said_by(client, response):
    return [str(message) for message in client.get(response.url.partition("#")[0]).context["messages"]]


class TestState:
    def test_without_stations_it_says_how_to_begin(self, job, page):
        text = page().text

        assert "No stations yet" in text
        assert reverse("jobs:station-mark", args=[job.pk]) in text
        assert reverse("jobs:round-take", args=[job.pk]) not in text
        assert reverse("jobs:drying-record", args=[job.pk]) not in text

    def test_with_a_station_it_offers_a_round(self, job, station, page):
        text = page().text

        assert "Not read yet" in text
        assert reverse("jobs:round-take", args=[job.pk]) in text

    def test_what_dries_has_its_dates_of_the_slowest_station(self, job, station, read, page):
        slow = StationFactory(job=job)
        read({station: (21.0, 20.8, 20.4, 20.2, 20.0), slow: DRYING})

        text = page().text

        dates = StationForecast.objects.get(station=slow)
        assert dates.dry_even_at > StationForecast.objects.get(station=station).dry_even_at
        assert f"<dt>Dry by, even odds</dt><dd>{shop_day(dates.dry_even_at)}" in text
        assert f"<dt>Dry by, safe</dt><dd>{shop_day(dates.dry_safe_at)}" in text
        assert escape(dates.reason) in text

    def test_where_no_safe_date_is_in_sight_it_says_so(self, station, read, page):
        read({station: DRYING})
        StationForecast.objects.update(dry_safe_at=None)

        assert "not within 60 days" in page().text

    def test_trouble_at_one_station_takes_the_date_away_and_says_what_to_do(self, job, station, read, page):
        troubled = StationFactory(job=job)
        read({station: DRYING, troubled: STALLED})

        text = page().text

        assert "No date: something must be done" in text
        assert "Dry by, even odds" not in text
        assert f'<strong><a href="#station-{troubled.number}">Station 2</a>, stopped drying.</strong>' in text
        assert text.count(escape(StationForecast.objects.get(station=troubled).reason)) == 2  # at the head and below

    def test_dry_at_every_station_asks_for_probe_and_tap(self, station, read, page):
        read({station: DRY})

        text = page().text

        assert "Dry: every station is under its limit" in text
        assert "Probe and tap the wood now" in text

    def test_each_reading_is_shown_as_read_and_corrected_newest_first(self, station, read, page):
        read({station: (30.0, 28.0, "high", "low", 24.0)})

        row = page().context["sheet"].stations[0]

        assert [each.meter for each in row.readings] == [
            "24 %",
            "too dry for the meter",
            "too wet for the meter",
            "28 %",
            "30 %",
        ]
        assert row.readings[0].corrected == "25.2 %"  # Sitka spruce at 24 C
        assert f"Latest {row.readings[0].how}" in page().text

    def test_a_station_not_read_for_two_days_is_to_be_read_again(self, client, technician, station, read, page):
        read({station: STALLED})
        assert "Last read over two days ago" not in page().text

        with time_machine.travel(NOON + timedelta(days=2, minutes=1), tick=False):
            assert "Last read over two days ago: read it again." in page().text

    def test_a_station_whose_date_has_come_is_to_be_read(self, station, read, page):
        read({station: DRYING})
        even_at = StationForecast.objects.get().dry_even_at

        with time_machine.travel(even_at - timedelta(minutes=1), tick=False):
            assert "It should be dry by now" not in page().text
        with time_machine.travel(even_at, tick=False):
            assert "It should be dry by now: read it." in page().text

    def test_once_the_coach_has_left_nothing_more_can_be_done(self, job, station, read, page):
        read({station: DRYING})
        job.left_bay_at = job.collected_at = NOON
        job.save()

        text = page().text

        assert reverse("jobs:round-take", args=[job.pk]) not in text
        assert reverse("jobs:equipment-place", args=[job.pk]) not in text

    @pytest.mark.parametrize("method", ["post", "put", "delete"])
    def test_other_methods_are_refused(self, client, job, method):
        assert getattr(client, method)(page_of(job)).status_code == 405


class TestCalm:
    """The page is long: its parts are named at the top, and what is looked at now and then lies folded."""

    def test_the_line_at_the_top_leads_to_parts_that_are_there(self, station, read, page):
        read({station: DRYING}, cavity_air=(18.0, 70.0))

        text = page().text

        contents = text.partition('aria-label="On this page"')[2].partition("</nav>")[0]
        parts = re.findall(r'href="#([^"]+)"', contents)
        assert parts == ["plan", "stations", "equipment", "air"]
        assert all(text.count(f'id="{part}"') == 1 for part in parts)

    def test_it_names_no_part_that_is_not_there(self, page):
        contents = page().text.partition('aria-label="On this page"')[2].partition("</nav>")[0]

        assert re.findall(r'href="#([^"]+)"', contents) == ["equipment", "air"]

    def test_a_station_is_folded_with_its_state_and_date_in_view(self, station, read, page):
        read({station: DRYING})

        summary = page().text.partition('<details class="station" id="station-1">')[2].partition("</summary>")[0]

        even_at = StationForecast.objects.get().dry_even_at
        assert "Station 1" in summary
        assert '<span class="state state-running">drying</span>' in summary
        assert f"dry by {shop_day(even_at)}" in summary

    def test_a_refused_reason_is_open_to_see(self, client, station, read):
        read({station: DRYING})

        refused = client.post(reverse("jobs:station-retire", args=[station.pk]), {"because": ""})

        assert '<details class="station" id="station-1" open>' in refused.text

    def test_the_latest_air_is_said_and_the_table_folded(self, station, read, page):
        read({station: (30.0, 29.0)})

        text = page().text

        assert "in the shop: 75 °F, 40 %. It holds wood at" in text
        assert "<summary>2 rounds, and their air</summary>" in text


class TestJumps:
    def test_a_jump_stands_at_the_head_at_its_station_and_at_its_reading(self, station, read, page):
        read({station: (18.0, 36.0, 35.0)})

        shown = page()

        (row,) = shown.context["sheet"].stations
        words = "From 18 % to 36 % in 10 hours: wood that is being dried hardly does that."
        assert [each.jump for each in row.readings] == ["", words, ""]
        assert shown.text.count(words) == 2
        assert "look at its jump" in shown.text
        assert '<span class="quiet">a jump</span>' in shown.text

    def test_struck_out_it_is_gone(self, technician, station, read, page):
        read({station: (18.0, 36.0, 17.5)})
        slip = station.readings.get(meter_pct=36.0)
        ReadingStrike.objects.create(reading=slip, reason="Slip.", struck_by=technician, struck_at=NOON)

        assert "jump" not in page().text

    def test_usual_drying_has_none(self, station, read, page):
        read({station: DRYING})

        assert "jump" not in page().text


class TestPlanningRate:
    """A rate that is assumed is called so, until the readings say more."""

    def test_a_date_that_rests_on_it_says_so_at_the_head_and_at_its_station(self, job, station, read, page):
        slow = StationFactory(job=job)
        read({station: DRYING[:2], slow: DRYING[:2]})

        text = page().text

        assert "The dates of stations 1 and 2 still rest on a planning rate, a planning value without a source." in text
        assert text.count("rests on the planning rate for framing, a planning value without a source.") == 2
        assert text.count("After about 3 readings, a day apart, the wood&#x27;s own rate takes over.") == 3

    def test_once_the_readings_say_more_it_says_nothing(self, station, read, page):
        read({station: DRYING[:2]})
        rate_per_h = StationForecast.objects.get().rate_per_h
        StationForecast.objects.update(rate_low_per_h=rate_per_h * 0.7, rate_high_per_h=rate_per_h * 1.4)

        assert "planning rate" not in page().text

    def test_the_shops_own_record_is_no_planning_value(self, station, read, page):
        read({station: DRYING[:2]})
        StationForecast.objects.update(rate_origin="shop history of 6 stations")

        assert "planning rate" not in page().text

    def test_without_a_date_nothing_rests_on_it(self, station, read, page):
        read({station: STALLED})

        assert "planning rate" not in page().text


class TestPolling:
    def test_until_the_worker_has_been_there_the_part_asks_again(self, job, station, read, page):
        read({station: DRYING}, is_answered=False)

        before = page(hx_request="true").text
        drain(NOON)
        after = page(hx_request="true").text

        assert "Being worked out" in before
        assert f'hx-get="{page_of(job)}" hx-trigger="every 2s"' in before
        assert "hx-get" not in after
        assert "Dry by, even odds" in after

    def test_the_part_is_no_page(self, station, page):
        part = page(hx_request="true")

        assert part.text.lstrip().startswith('<div id="drying-state"')
        assert "<html" not in part.text
        assert "HX-Request" in part["Vary"]
        assert "<html" in page().text

    def test_a_new_round_makes_it_ask_again(self, job, station, read, page):
        read({station: DRYING})
        assert "hx-get" not in page().text

        ReadingFactory(
            station=station, round=ReadingRoundFactory(job=job, taken_at=NOON + timedelta(minutes=1)), meter_pct=27.0
        )

        assert 'hx-trigger="every 2s"' in page().text


class TestAdvice:
    def test_what_to_set_up_comes_from_the_wet_places_with_its_source(self, job, page):
        FindingFactory(job=job, face="floor", width_mm=3000.0, height_mm=2000.0, verdict="wait_for_dry")
        FindingFactory(job=job, face="roof", width_mm=2000.0, height_mm=1000.0, is_wet=True)
        FindingFactory(job=job, face="rear", width_mm=2000.0, height_mm=2000.0, is_wet=False, verdict="sound")

        shown = page()

        advice = shown.context["sheet"].advice
        blowers = sizing.blowers_needed(wet_floor_m2=6.0, wet_upper_m2=2.0)
        assert advice.wet_area_m2 == pytest.approx(8.0)
        assert advice.blowers == blowers
        assert escape(f"To start with: {blowers.text}") in shown.text
        assert escape(blowers.source) in shown.text
        assert escape(advice.class_source.capitalize()[:40]) in shown.text

    def test_where_nothing_is_wet_there_is_none(self, job, page):
        FindingFactory(job=job, verdict="sound")

        shown = page()

        assert shown.context["sheet"].advice is None
        assert "To start with" not in shown.text

    def test_cautions_stand_on_the_page(self, page):
        text = page().text

        assert "No blower on visible mould" in text
        assert "carbon monoxide" in text
        assert "Product labels, local codes and licensed trades come before this note." in text


class TestAir:
    def test_each_round_is_shown_with_what_its_air_does_to_wood(self, station, read, page):
        read({station: (30.0, 29.0)})

        shown = page()

        newest, _ = shown.context["sheet"].rounds
        assert newest.round.taken_at == NOON
        assert newest.dew_point_c == pytest.approx(dew_point_c(*AIR))
        assert newest.grains == pytest.approx(grains_per_lb(*AIR))
        assert newest.equilibrium_pct == pytest.approx(float(emc_pct(*AIR)))
        for words in ("in the shop", "75 °F", "40 %", "Imani Feld, 1 station"):
            assert words in shown.text

    def test_the_cavitys_air_counts_where_it_was_measured(self, station, read, page):
        read({station: (30.0,)}, cavity_air=(18.0, 80.0))

        (row,) = page().context["sheet"].rounds

        assert row.words == "inside the cavity"
        assert row.equilibrium_pct == pytest.approx(float(emc_pct(18.0, 80.0)))

    def test_the_shops_altitude_counts(self, job, station, read, page):
        job.shop.altitude_m = 1609.344
        job.shop.save()
        read({station: (30.0,)})

        shown = page()

        (row,) = shown.context["sheet"].rounds
        assert row.grains == pytest.approx(grains_per_lb(*AIR, standard_pressure_pa(1609.344)))
        assert row.grains > 1.2 * grains_per_lb(*AIR)
        assert f"{row.grains:.0f} gr/lb" in shown.text
        assert "at an altitude of 5,280 ft" in shown.text

    def test_a_wet_bulb_stands_as_it_was_read(self, job, station, page):
        ReadingFactory(station=station, round__air_temp_c=24.0, round__rh_pct=44.0, round__wet_bulb_c=16.0)

        assert "in the shop, wet bulb 61 °F" in page().text

    def test_it_says_what_the_shops_air_drawn_through_the_cavity_would_do(self, job, station, read, page):
        read({station: (30.0,)}, cavity_air=(22.0, 75.0))

        words = airing_words(AIR, (22.0, 75.0), units="us")
        assert words.startswith("100 cfm of the shop's air drawn through the cavity carries out about")
        assert escape(words) in page().text

    def test_it_says_when_airing_would_wet_the_cavity(self, job, station, read, page):
        read({station: (30.0,)}, air=(27.0, 75.0), cavity_air=(20.0, 60.0))

        assert "Airing would wet it: dry the shop&#x27;s air first." in page().text

    def test_with_one_air_alone_it_says_nothing_of_airing(self, job, station, read, page):
        read({station: (30.0,)})

        assert page().context["sheet"].airing == ""

    def test_a_metric_shop_reads_celsius(self, job, station, read, page):
        job.shop.units = "metric"
        job.shop.save()
        read({station: (30.0,)})

        text = page().text
        assert "24 °C" in text
        assert f"{1000 * humidity_ratio(*AIR):.1f} g/kg" in text


class TestQueries:
    def test_their_number_does_not_grow_with_stations_rounds_or_findings(
        self, client, job, station, read, page, django_assert_max_num_queries
    ):
        read({station: DRYING[:2]})
        with django_assert_max_num_queries(30) as few:
            page()
        more = [StationFactory(job=job) for _ in range(9)]
        for number in range(4):
            taken = ReadingRoundFactory(job=job, taken_at=NOON + timedelta(minutes=number + 1))
            for each in more:
                ReadingFactory(station=each, round=taken)
        PlacementFactory.create_batch(5, job=job)
        for _ in range(5):
            FindingFactory(job=job, is_wet=True)
        drain(NOON)

        with django_assert_max_num_queries(len(few)):
            shown = page()

        assert len(shown.context["sheet"].stations) == 10


class TestPictures:
    @pytest.mark.parametrize(
        ("form", "content_type", "beginning"), [("svg", "image/svg+xml", SVG), ("png", "image/png", PNG)]
    )
    def test_charts_and_plans_are_served_as_what_they_are(
        self, client, job, station, read, form, content_type, beginning
    ):
        read({station: DRYING})

        for url in (chart_of(station, form), plan_of(job, form=form)):
            response = client.get(url)
            assert response.status_code == 200
            assert response["Content-Type"] == content_type
            assert response["X-Content-Type-Options"] == "nosniff"
            assert "private" in response["Cache-Control"]
            assert beginning in response.content[:300]

    def test_a_station_not_read_yet_has_pictures_too(self, client, job, station):
        assert client.get(chart_of(station)).status_code == 200
        assert client.get(plan_of(job)).status_code == 200

    def test_the_page_links_them_and_says_the_same_in_words(self, job, station, read, page):
        read({station: DRYING})

        text = page().text

        assert f'src="{chart_of(station)}?v=' in text
        assert f'src="{plan_of(job)}?v=' in text
        assert f'src="{plan_of(job, "floor")}' not in text
        assert 'alt="Station 1, framing, Sitka spruce first read' in text

    def test_their_addresses_change_with_the_next_round(self, job, station, read, page):
        read({station: DRYING[:4]})
        before = page().text
        later = NOON + timedelta(hours=3)
        ReadingFactory(station=station, round=ReadingRoundFactory(job=job, taken_at=later), meter_pct=27.0)
        StationForecast.objects.update(worked_out_at=later)

        after = page().text

        for url in (chart_of(station), plan_of(job)):
            assert versions(before, url) != versions(after, url)

    @pytest.mark.parametrize("form", ["gif", "pdf", "svgz", "SVG"])
    def test_an_unknown_form_is_not_found(self, client, job, station, form):
        assert client.get(chart_of(station, form)).status_code == 404
        assert client.get(plan_of(job, form=form)).status_code == 404

    @pytest.mark.parametrize("layer", ["paint", "FRAMING", "framing.svg"])
    def test_an_unknown_layer_is_not_found(self, client, job, station, layer):
        assert client.get(plan_of(job, layer)).status_code == 404

    def test_other_methods_are_refused(self, client, job, station):
        assert client.post(chart_of(station)).status_code == 405
        assert client.post(plan_of(job)).status_code == 405


def versions(text, url):
    return [part.partition('"')[0] for part in text.split(f'src="{url}?v=')[1:]]


class TestRecord:
    @pytest.fixture
    def record(self, client, job):
        return lambda: client.get(reverse("jobs:drying-record", args=[job.pk]))

    def test_it_holds_readings_air_equipment_verdicts_and_pictures(self, job, station, read, record):
        FindingFactory(
            job=job, moisture_pct=28.0, verdict="wait_for_dry", own_verdict="rotted",
            own_verdict_reason="Crumbles in the hand.", own_verdict_by=station.marked_by, own_verdict_at=NOON,
        )  # fmt: skip
        PlacementFactory(job=job, kind="dehumidifier", count=2, note="under the bunk")
        read({station: ("high", 31.0, 29.2, 27.6)}, cavity_air=(18.0, 70.0))

        response = record()

        assert response["Content-Type"] == "application/pdf"
        assert f"drying-record-job-{job.number}.pdf" in response["Content-Disposition"]
        pages = PdfReader(BytesIO(response.content)).pages
        words = " ".join(" ".join(page.extract_text() for page in pages).split())
        for expected in (
            f"JOB {job.number}",  # set in capitals
            str(job.coach),
            "Station 1: framing, Sitka spruce",
            "too wet for the meter",
            "27.6 %",
            "inside the cavity",
            "2 dehumidifiers",
            "under the bunk",
            "rotted (decided by a person: Crumbles in the hand.; computed: wait for dry)",
        ):
            assert expected in words
        drawn = {image.data for page in pages for image in page.images}  # the pages share one list of pictures
        assert len(drawn) == 2  # the plan of the framing and the chart of the station

    def test_without_readings_it_says_so(self, job, record):
        words = " ".join(page.extract_text() for page in PdfReader(BytesIO(record().content)).pages)

        assert "No station has been read." in words
        assert "None was logged." in words

    @pytest.mark.parametrize("method", ["post", "put", "delete"])
    def test_other_methods_are_refused(self, client, job, method):
        assert getattr(client, method)(reverse("jobs:drying-record", args=[job.pk])).status_code == 405


class TestEquipment:
    @pytest.fixture
    def place(self, client, job):
        def send(**changes):
            return client.post(reverse("jobs:equipment-place", args=[job.pk]), good_fields() | changes)

        return send

    def test_it_is_logged_and_shown(self, client, technician, job, place, page):
        response = place()

        placed = Placement.objects.get()
        assert response.url.startswith(page_of(job))
        assert said_by(client, response) == ["Noted."]
        assert (placed.kind, placed.count, placed.face, placed.note) == ("blower", 3, "floor", "Under <the> bunk")
        assert (placed.placed_by, placed.placed_at) == (technician, NOON)
        assert JournalEntry.objects.get().kind == kinds.EQUIPMENT_PLACED
        text = page().text
        assert "3 blowers" in text
        assert escape("Under <the> bunk") in text
        assert reverse("jobs:equipment-take-away", args=[placed.pk]) in text

    def test_it_may_dry_the_whole_coach(self, place, page):
        place(face="", note="")

        assert Placement.objects.get().face == ""
        assert "the whole coach" in page().text

    def test_sent_twice_it_is_logged_once(self, place):
        key = str(uuid.uuid4())

        first, second = place(key=key), place(key=key)

        assert first.url == second.url
        assert (Placement.objects.count(), JournalEntry.objects.count()) == (1, 1)

    @pytest.mark.parametrize(
        ("changes", "field", "words"),
        [
            ({"count": "0"}, "count", "greater than or equal to 1"),
            ({"count": "41"}, "count", "less than or equal to 40"),
            ({"count": ""}, "count", "How many?"),
            ({"count": "two"}, "count", "Write a whole number."),
            ({"count": "1.5"}, "count", "Write a whole number."),
            ({"kind": "kettle"}, "kind", "not one of the available choices"),
            ({"kind": ""}, "kind", "required"),
            ({"face": "ceiling"}, "face", "not one of the available choices"),
            ({"note": "x" * 121}, "note", "at most 120 characters"),
        ],
    )
    def test_a_bad_field_is_refused_beside_it_with_all_that_was_typed(self, place, changes, field, words):
        typed = good_fields() | changes

        response = place(**typed)

        form = response.context["placement_form"]
        assert response.status_code == 422
        assert list(form.errors) == [field]
        assert words in form.errors[field][0]
        assert response.text.count(escape(form.errors[field][0])) == 2  # beside the field, and at the head
        assert {name: str(form[name].value()) for name in typed} == typed
        assert not Placement.objects.exists()
        assert not JournalEntry.objects.exists()

    def test_a_key_that_is_none_is_replaced(self, place):
        response = place(key="x")

        assert response.status_code == 422
        assert uuid.UUID(str(response.context["placement_form"]["key"].value()))
        assert not Placement.objects.exists()

    def test_a_key_of_another_coach_is_refused_in_words(self, client, place):
        elsewhere = PlacementFactory()

        response = place(key=str(elsewhere.key))

        assert said_by(client, response) == ["This entry was already stored for another coach."]
        assert Placement.objects.get() == elsewhere

    def test_a_coach_that_has_left_is_refused_in_words(self, client, job, place):
        job.left_bay_at = job.collected_at = NOON
        job.save()

        assert said_by(client, place()) == ["This can be done while the coach is at the shop."]
        assert not Placement.objects.exists()

    def test_it_is_taken_away_and_stays_on_record(self, client, job, page):
        placed = PlacementFactory(job=job)

        response = client.post(reverse("jobs:equipment-take-away", args=[placed.pk]))

        placed.refresh_from_db()
        assert response.url.startswith(page_of(job))
        assert said_by(client, response) == ["Noted as taken away."]
        assert placed.taken_away_at == NOON
        text = page().text
        assert "2 blowers" in text
        assert reverse("jobs:equipment-take-away", args=[placed.pk]) not in text

    def test_a_look_does_not_do_it(self, client, job):
        placed = PlacementFactory(job=job)

        assert client.get(reverse("jobs:equipment-place", args=[job.pk])).status_code == 405
        assert client.get(reverse("jobs:equipment-take-away", args=[placed.pk])).status_code == 405
        placed.refresh_from_db()
        assert placed.taken_away_at is None


def good_fields():
    return {"key": str(uuid.uuid4()), "kind": "blower", "count": "3", "face": "floor", "note": "Under <the> bunk"}
