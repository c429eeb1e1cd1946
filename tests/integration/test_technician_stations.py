"""Marking stations on the coach, and giving one up."""

import uuid
from datetime import timedelta

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils.html import escape

from jobs import kinds
from jobs.models import JournalEntry, Station, StationForecast
from shopfloor.demo.telling import drain
from tests.factories import (
    NOON,
    JobFactory,
    PersonFactory,
    ReadingFactory,
    ReadingRoundFactory,
    StationFactory,
)

pytestmark = pytest.mark.django_db


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
def post(client, job):
    """Mark a good station, with some fields changed."""

    def send(**changes):
        return client.post(form_of(job), good_fields() | changes)

    return send


def form_of(job):
    return reverse("jobs:station-mark", args=[job.pk])


def good_fields():
    return {
        "key": str(uuid.uuid4()),
        "face": "front",
        "left": "3' 6 1/2\"",
        "top": "4",
        "layer": "framing",
        "material": "spruce_sitka",
        "note": "Sill, left of the window",
    }


def messages_of(client, response):
    return [str(message) for message in client.get(response.url).context["messages"]]


class TestForm:
    def test_it_carries_a_fresh_mark_each_time(self, client, job):
        keys = {str(client.get(form_of(job)).context["form"]["key"].value()) for _ in range(2)}

        assert len(keys) == 2
        assert all(uuid.UUID(key) for key in keys)

    def test_it_shows_on_the_plan_what_is_read_already_and_not_what_was_given_up(self, client, job):
        StationFactory(job=job)
        StationFactory(job=job, retired_at=NOON, retired_because="wrong")

        page = client.get(form_of(job))

        assert [spot.number for spot in page.context["plan"].spots] == [1]

    @pytest.mark.parametrize("method", ["put", "patch", "delete"])
    def test_other_methods_are_refused(self, client, job, method):
        assert getattr(client, method)(form_of(job)).status_code == 405


class TestMarking:
    def test_a_station_is_stored_with_its_place_and_journal_entry(self, client, technician, post, job):
        response = post()

        station = Station.objects.get()
        assert response.status_code == 302
        assert response.url == reverse("jobs:drying-detail", args=[job.pk])
        assert messages_of(client, response) == ["This is station 1. Write 1 on the spot."]
        assert (station.job, station.number, station.marked_by, station.marked_at) == (job, 1, technician, NOON)
        assert (station.face, station.layer, station.material) == ("front", "framing", "spruce_sitka")
        assert station.left_mm == pytest.approx(42.5 * 25.4)
        assert station.top_mm == pytest.approx(4 * 25.4)
        assert station.note == "Sill, left of the window"
        entry = JournalEntry.objects.get(job=job)
        assert (entry.kind, entry.person) == (kinds.STATION_MARKED, technician)
        assert entry.data["station"] == 1
        assert entry.data["place"] == ["front", station.left_mm, station.top_mm]
        assert (entry.data["layer"], entry.data["material"]) == ("framing", "spruce_sitka")

    def test_its_number_follows_the_last_even_when_that_was_given_up(self, post, job):
        StationFactory(job=job, number=6)
        StationFactory(job=job, number=7, retired_at=NOON, retired_because="wrong")

        post()

        assert Station.objects.latest("number").number == 8

    def test_each_coach_counts_its_own(self, post, job):
        StationFactory(number=40)

        post()

        assert job.stations.get().number == 1

    def test_and_another_goes_back_to_an_empty_form(self, client, post, job):
        key = str(uuid.uuid4())

        response = post(key=key, again="1")

        assert response.url == form_of(job)
        form = client.get(response.url).context["form"]
        assert Station.objects.count() == 1
        assert form["left"].value() in (None, "")
        assert str(form["key"].value()) != key

    def test_a_spot_on_the_very_edge_is_on_its_face(self, post, job):
        job.shop.units = "metric"
        job.shop.save()

        post(left="2.5 m", top="0")

        station = Station.objects.get()
        assert (station.left_mm, station.top_mm) == (2500, 0)

    def test_the_note_may_be_missing(self, post):
        post(note="")

        assert Station.objects.get().note == ""

    def test_the_same_form_sent_twice_is_one_station(self, post):
        key = str(uuid.uuid4())

        first, second = post(key=key), post(key=key)

        assert Station.objects.count() == 1
        assert JournalEntry.objects.count() == 1
        assert first.url == second.url

    def test_a_key_of_another_coach_is_refused_in_words(self, post):
        elsewhere = StationFactory()

        response = post(key=str(elsewhere.key))

        assert response.status_code == 422
        assert "already stored for another coach" in response.text
        assert Station.objects.get() == elsewhere


BAD_FIELDS = [
    ({"face": ""}, "face", "Choose the face"),
    ({"face": "ceiling"}, "face", "not one of the available choices"),
    ({"layer": ""}, "layer", "required"),
    ({"layer": "paint"}, "layer", "not one of the available choices"),
    ({"material": ""}, "material", "required"),
    ({"material": "balsa"}, "material", "not one of the available choices"),
    ({"left": ""}, "left", "Measure it and write it down"),
    ({"left": "a bit in"}, "left", "does not read as a length"),
    ({"left": "-3"}, "left", "below zero"),
    ({"left": "200 ft"}, "left", "longer than any coach"),
    ({"top": "1/0"}, "top", "does not read as a length"),
    ({"note": "x" * 121}, "note", "at most 120 characters"),
]


class TestRefusals:
    @pytest.mark.parametrize(("changes", "field", "words"), BAD_FIELDS)
    def test_a_bad_field_is_refused_beside_it_with_all_that_was_typed(self, post, changes, field, words):
        typed = good_fields() | {"note": "Sill & <stud>"} | changes

        response = post(**typed)

        assert response.status_code == 422
        form = response.context["form"]
        assert list(form.errors) == [field]
        assert words in form.errors[field][0]
        assert response.text.count(escape(form.errors[field][0])) == 2  # beside the field, and at the head
        assert {name: str(form[name].value()) for name in typed} == typed
        assert escape(typed["note"]) in response.text
        assert not Station.objects.exists()
        assert not JournalEntry.objects.exists()

    @pytest.mark.parametrize(
        ("face", "field", "distance", "end"),
        [
            ("front", "left", "8' 3\"", "8' 2 7/16\""),
            ("front", "top", "9 ft", "8' 2 7/16\""),
            ("roof", "left", "27 ft", "26' 2 15/16\""),
            ("roof", "top", "9 ft", "8' 2 7/16\""),
        ],
    )
    def test_a_distance_off_the_face_is_told_where_the_face_ends(self, post, face, field, distance, end):
        response = post(**{"face": face, field: distance})

        said = response.context["form"].errors
        assert response.status_code == 422
        assert list(said) == [field]
        assert f"{face} " in said[field][0]
        assert f"ends at {end}. Check the distance." in said[field][0]
        assert not Station.objects.exists()

    @pytest.mark.parametrize("key", ["", "1", "../../etc/passwd", "x" * 4000])
    def test_a_key_that_is_none_is_replaced_so_that_the_form_can_be_sent_again(self, post, key):
        response = post(key=key)

        assert response.status_code == 422
        assert uuid.UUID(str(response.context["form"]["key"].value()))
        assert "Sill, left of the window" in response.text
        assert not Station.objects.exists()

    def test_a_coach_that_has_left_is_refused_in_words(self, post, job):
        job.left_bay_at = job.collected_at = NOON
        job.save()

        response = post()

        assert response.status_code == 422
        assert "while the coach is at the shop" in response.text
        assert "Sill, left of the window" in response.text
        assert not Station.objects.exists()

    def test_a_coach_that_has_not_come_is_refused_in_words(self, client, technician):
        booked = JobFactory(shop=technician.shop)

        response = client.post(form_of(booked), good_fields())

        assert response.status_code == 422
        assert "while the coach is at the shop" in response.text
        assert not Station.objects.exists()


class TestDatabase:
    @pytest.mark.parametrize(
        "wrong",
        [
            {"number": 1},
            {"face": "ceiling"},
            {"layer": "paint"},
            {"left_mm": -1.0},
            {"top_mm": -1.0},
            {"retired_at": NOON - timedelta(days=5), "retired_because": "wrong"},
            {"retired_at": NOON},
            {"retired_because": "wrong"},
        ],
    )
    def test_it_refuses_a_station_that_cannot_be(self, job, wrong):
        StationFactory(job=job, number=1)

        with pytest.raises(IntegrityError), transaction.atomic():
            StationFactory(job=job, **{"number": 2} | wrong)

        assert Station.objects.count() == 1


class TestRetiring:
    @pytest.fixture
    def station(self, job):
        return StationFactory(job=job)

    @pytest.fixture
    def retire(self, client):
        return lambda station: client.post(reverse("jobs:station-retire", args=[station.pk]), {"because": "cut_out"})

    def test_it_is_read_no_more_and_its_readings_are_kept(self, client, technician, job, station, retire):
        ReadingFactory(station=station)

        response = retire(station)

        station.refresh_from_db()
        assert response.url == reverse("jobs:drying-detail", args=[job.pk])
        assert messages_of(client, response) == ["Station 1 is no longer read. Its readings are kept."]
        assert station.retired_at == NOON
        assert station.readings.count() == 1
        entry = JournalEntry.objects.get()
        assert (entry.kind, entry.person, entry.data) == (
            kinds.STATION_RETIRED,
            technician,
            {"station": 1, "because": "cut_out"},
        )
        assert client.get(reverse("jobs:round-take", args=[job.pk])).context["rows"] == []

    def test_a_second_time_changes_nothing(self, station, retire):
        retire(station)
        with time_machine.travel(NOON + timedelta(hours=1), tick=False):
            retire(station)

        station.refresh_from_db()
        assert station.retired_at == NOON
        assert JournalEntry.objects.count() == 1

    def test_its_forecast_goes_once_the_worker_has_been_there_and_the_others_stay(self, job, station, retire):
        other = StationFactory(job=job)
        taken = ReadingRoundFactory(job=job)
        for each in (station, other):
            ReadingFactory(station=each, round=taken)
            StationForecast.objects.create(
                station=each,
                round=taken,
                worked_out_at=NOON - timedelta(hours=1),
                outcome="too_few",
                reason="Read it again.",
                limit_pct=19.0,
                equilibrium_pct=8.5,
                rate_low_per_h=0.005,
                rate_per_h=0.012,
                rate_high_per_h=0.03,
                rate_origin="planning value",
                curve=[],
            )

        retire(station)
        drain(NOON)

        kept = StationForecast.objects.get()
        assert kept.station == other
        assert kept.worked_out_at == NOON
        assert station.readings.count() == 1

    def test_the_last_one_leaves_no_forecast(self, job, station, retire):
        ReadingFactory(station=station)

        retire(station)
        drain(NOON)

        assert not StationForecast.objects.exists()
        worked_out = JournalEntry.objects.get(kind=kinds.DRYING_WORKED_OUT)
        assert worked_out.data == {"cause": kinds.STATION_RETIRED, "stations": [], "unread": 0}

    def test_without_a_reason_it_goes_on_being_read(self, client, station):
        response = client.post(reverse("jobs:station-retire", args=[station.pk]))

        station.refresh_from_db()
        assert response.status_code == 422
        assert "Say why it is no longer read." in response.text
        assert station.retired_at is None
        assert not JournalEntry.objects.exists()

    def test_it_can_be_read_again(self, client, job, station, retire):
        retire(station)

        client.post(reverse("jobs:station-restore", args=[station.pk]))

        station.refresh_from_db()
        assert (station.retired_at, station.retired_because) == (None, "")
        assert list(JournalEntry.objects.values_list("kind", flat=True)) == [
            kinds.STATION_RETIRED,
            kinds.STATION_RESTORED,
        ]

    def test_a_look_does_not_do_it(self, client, station):
        assert client.get(reverse("jobs:station-retire", args=[station.pk])).status_code == 405
        station.refresh_from_db()
        assert station.retired_at is None
