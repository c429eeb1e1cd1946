"""What an owner hears while the coach dries: once when it is news, with the chart of the slowest station."""

from datetime import timedelta
from email import message_from_bytes
from email.policy import default

import pytest
import time_machine
from django.core import mail

from jobs.calc.faces import Face
from jobs.services.moisture import retire_station
from shopfloor.demo.telling import drain
from tests.factories import NOON
from tests.scenes import mark, walk
from updates.models import Update

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
AIR = (22.0, 45.0)


@pytest.fixture
def scene(kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        mail.outbox.clear()
        yield scene


def read(scene, days, values):
    """One round some days on, and all that follows from it."""
    walk(scene, NOON + days * DAY, values, air=AIR)
    drain(NOON + days * DAY)


def subjects(scene):
    updates = Update.objects.filter(job=scene.job, family=Update.Family.DRYING).order_by("pk")
    return [update.message["subject"].removeprefix("Your 2011 travel trailer ") for update in updates]


def test_no_date_is_told_while_it_rests_on_an_assumed_pace(scene):
    read(scene, 0, {mark(scene): 30.0})

    assert subjects(scene) == []


def test_the_first_date_is_told_with_the_chart_of_the_station_that_is_last(scene):
    fast, slow = mark(scene), mark(scene, left_mm=2000.0)

    read(scene, 0, {fast: 24.0, slow: 34.0})
    read(scene, 1, {fast: 21.5, slow: 31.0})

    (sent,) = mail.outbox
    assert sent.subject == "Your 2011 travel trailer is drying"
    assert "at 2 spots" in sent.body
    assert f"Station {slow.number}" in sent.body, "the words that stand for the picture"
    related = message_from_bytes(sent.message().as_bytes(), policy=default)
    assert related.get_content_type() == "multipart/related"
    alternative, picture = related.iter_parts()
    assert alternative.get_content_type() == "multipart/alternative"
    assert picture.get_content_type() == "image/png"
    assert picture["Content-ID"] == "<picture>"
    assert picture.get_content().startswith(b"\x89PNG")
    html = related.get_body(("html",)).get_content()
    assert 'src="cid:picture"' in html


def test_a_reading_within_what_was_told_is_no_news(scene):
    station = mark(scene)

    for days, value in enumerate([30.0, 27.2, 24.8]):
        read(scene, days, {station: value})

    assert subjects(scene) == ["is drying"]


def test_dry_from_the_first_reading_on_is_no_news(scene):
    read(scene, 0, {mark(scene): 11.0})

    assert subjects(scene) == []
    assert mail.outbox == []


def test_getting_wetter_then_drying_then_dry_is_told_each_time(scene):
    station = mark(scene, face=Face.ROOF, left_mm=500.0, top_mm=500.0)

    for days, value in [(0, 24.0), (0.5, 24.5), (1.5, 31.0), (3, 24.0), (4, 22.0), (5, 20.5), (7, 17.0)]:
        read(scene, days, {station: value})

    assert subjects(scene) == ["is drying", "is not drying as it should", "is drying", "is dry"]


def test_the_wettest_beyond_the_meter_is_said_in_words(scene):
    first, second = mark(scene), mark(scene, left_mm=1500.0)

    read(scene, 0, {first: "high", second: 24.0})
    read(scene, 1, {first: "high", second: 21.0})

    assert "too wet for our meter" in mail.outbox[0].body


def test_at_most_one_message_a_day(scene):
    station = mark(scene)

    for days, value in [(0, 24.0), (0.25, 24.2), (0.5, 29.0), (0.6, 33.0)]:
        read(scene, days, {station: value})

    assert subjects(scene) == ["is drying"]


def test_a_station_taken_off_the_list_makes_no_coach_dry(scene):
    wet, dry = mark(scene), mark(scene, left_mm=1500.0)
    read(scene, 0, {wet: 30.0, dry: 15.0})
    read(scene, 1, {wet: 27.5, dry: 14.0})

    retire_station(station_id=wet.pk, because="covered", by=scene.technician, now=NOON + 2 * DAY)
    drain(NOON + 2 * DAY)

    assert subjects(scene) == ["is drying"]


def test_a_station_never_read_keeps_the_coach_from_being_called_dry(scene):
    first = mark(scene)
    read(scene, 0, {first: 30.0})
    read(scene, 1, {first: 27.5})
    mark(scene, left_mm=1500.0)

    read(scene, 3, {first: 15.0})

    assert subjects(scene) == ["is drying"]
