"""Striking out a reading that was a slip: it stays on record, and counts no more."""

import pytest
import time_machine
from django.urls import reverse

from jobs import kinds
from jobs.models import JournalEntry, ReadingStrike, StationForecast
from shopfloor.demo.telling import drain
from tests.factories import NOON, JobFactory, PersonFactory, ReadingFactory, ReadingRoundFactory, StationFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def technician(client):
    person = PersonFactory()
    client.force_login(person)
    with time_machine.travel(NOON, tick=False):
        yield person


@pytest.fixture
def slip(technician):
    """The second of two readings, typed 81 instead of 18."""
    station = StationFactory(job=JobFactory(shop=technician.shop, arrived=True))
    ReadingFactory(station=station, meter_pct=15.0, round=ReadingRoundFactory(job=station.job))
    return ReadingFactory(station=station, meter_pct=81.0, round=ReadingRoundFactory(job=station.job))


def strike(client, reading, reason="Typed 81, it was 18."):
    return client.post(reverse("jobs:reading-strike", args=[reading.pk]), {"reason": reason})


def test_the_page_says_which_reading_it_is(client, slip):
    page = client.get(reverse("jobs:reading-strike", args=[slip.pk]))

    assert page.status_code == 200
    assert "81 %" in page.text


def test_it_counts_no_more_and_stays_on_record_with_the_reason(client, technician, slip):
    response = strike(client, slip)
    drain(NOON)

    assert response["Location"] == reverse("jobs:drying-detail", args=[slip.station.job_id])
    kept = ReadingStrike.objects.get()
    assert (kept.reading, kept.struck_by, kept.reason) == (slip, technician, "Typed 81, it was 18.")
    assert StationForecast.objects.get().outcome == "dry"
    entry = JournalEntry.objects.get(kind=kinds.READING_STRUCK)
    assert entry.data["reading"] == ["value", 81.0]
    page = client.get(response["Location"])
    assert "Typed 81, it was 18." in page.text
    assert "81 %" in page.text


def test_a_second_time_finds_nothing_to_strike(client, slip):
    strike(client, slip)

    assert strike(client, slip).status_code == 404
    assert ReadingStrike.objects.count() == 1


def test_without_a_reason_nothing_is_struck(client, slip):
    response = strike(client, slip, reason=" ")

    assert response.status_code == 422
    assert "Say what was wrong with it." in response.text
    assert not ReadingStrike.objects.exists()
    assert not JournalEntry.objects.exists()
