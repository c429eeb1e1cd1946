"""Clocking on and off at a phone, correcting hours, noting materials."""

import uuid
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
import time_machine
from django.urls import reverse

from jobs.models import JournalEntry, WorkSpan
from tests.factories import (
    NOON,
    FindingFactory,
    JobFactory,
    OperationFactory,
    PersonFactory,
    RemedyFactory,
    WorkSpanFactory,
)

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOON, tick=False) as traveller:
        yield traveller


@pytest.fixture
def technician(client):
    person = PersonFactory()
    client.force_login(person)
    return person


@pytest.fixture
def job(technician):
    return JobFactory(shop=technician.shop, in_bay=True)


@pytest.fixture
def manager(client, job):
    person = PersonFactory(manager=True, shop=job.shop)
    client.force_login(person)
    return person


def operation_of(job, **kwargs):
    return OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job, is_booked=True)), **kwargs)


def page_of(job):
    return reverse("jobs:job-detail", args=[job.pk])


def said(client, response):
    return [str(message) for message in client.get(response.url).context["messages"]]


def start(client, operation):
    return client.post(reverse("jobs:operation-start", args=[operation.pk]))


class TestClock:
    def test_who_started_work_is_on_the_clock_and_may_clock_off(self, client, job):
        start(client, operation_of(job))

        text = client.get(page_of(job)).text

        assert "On the clock: Imani Feld" in text
        assert reverse("jobs:clock-off") in text
        assert "Join" not in text

    def test_clocking_off_for_lunch_leaves_the_work_to_be_joined_again(self, client, clock, technician, job):
        operation = operation_of(job, words="Strip the skin")
        start(client, operation)
        clock.shift(HOUR)

        response = client.post(reverse("jobs:clock-off"))

        assert response.url == page_of(job)
        assert "Clocked off: Strip the skin." in said(client, response)[-1]
        text = client.get(page_of(job)).text
        assert "Nobody is on the clock." in text
        assert "Join" in text
        assert operation.spans.get().hours_until(NOON) == 1.0

    def test_the_first_page_says_what_one_is_on_and_clocks_off(self, client, job):
        start(client, operation_of(job, words="Strip the skin"))

        text = client.get(reverse("jobs:start")).text
        response = client.post(reverse("jobs:clock-off"), {"next": reverse("jobs:start")})

        assert "You are on the clock" in text
        assert response.url == reverse("jobs:start")
        assert "You are on the clock" not in client.get(response.url).text

    def test_a_clock_left_running_over_night_is_said_with_its_beginning(self, client, clock, job):
        start(client, operation_of(job))
        assert "You are on the clock." in client.get(reverse("jobs:start")).text
        clock.shift(24 * HOUR)
        assert "You have been clocked on since yesterday, 12:00 PM." in client.get(reverse("jobs:start")).text
        clock.shift(24 * HOUR)
        assert "You have been clocked on since Wed, Mar 4, 12:00 PM." in client.get(reverse("jobs:start")).text

    def test_a_clock_left_running_after_closing_is_said_on_the_same_day(self, client, clock, job):
        start(client, operation_of(job))
        clock.shift(5 * HOUR)
        assert "You have been clocked on since 12:00 PM today." in client.get(reverse("jobs:start")).text

    def test_clocking_off_twice_is_refused_in_words(self, client, job):
        start(client, operation_of(job))
        client.post(reverse("jobs:clock-off"))

        response = client.post(reverse("jobs:clock-off"))

        assert said(client, response)[-1] == "You are not clocked on."

    def test_starting_other_work_says_what_it_ended(self, client, clock, job):
        start(client, operation_of(job, words="Strip the skin"))
        clock.shift(HOUR)

        response = start(client, operation_of(job, words="Splice the frame"))

        assert said(client, response)[-2:] == [
            "Started: Splice the frame.",
            f"You are off the clock on “Strip the skin” (job {job.number}).",
        ]
        assert WorkSpan.objects.open().count() == 1

    def test_a_second_technician_joins_and_finishing_clocks_both_off(self, client, clock, job):
        operation = operation_of(job)
        start(client, operation)
        second = PersonFactory(shop=job.shop, first_name="Lou", last_name="Hargrove")
        client.force_login(second)

        response = start(client, operation)
        clock.shift(HOUR)
        finished = client.post(reverse("jobs:operation-finish", args=[operation.pk]))

        assert any(words.startswith("Joined") for words in said(client, response))
        assert finished.status_code == 302
        assert operation.spans.count() == 2
        assert not WorkSpan.objects.open().exists()

    def test_a_stranger_is_sent_to_sign_in(self, client):
        assert client.post(reverse("jobs:clock-off")).url.startswith("/sign-in/")

    def test_it_is_a_post(self, client, technician):
        assert client.get(reverse("jobs:clock-off")).status_code == 405


class TestMending:
    @pytest.fixture
    def span(self, job, technician):
        operation = operation_of(job, running=True)
        return WorkSpanFactory(operation=operation, person=technician, started_at=NOON - 20 * HOUR, ended_at=None)

    def url(self, span):
        return reverse("jobs:span-mend", args=[span.pk])

    def test_the_manager_closes_a_forgotten_span(self, client, manager, span):
        page = client.get(self.url(span))
        response = client.post(
            self.url(span),
            {"started_at": "2026-03-03T16:00", "ended_at": "2026-03-03T19:30", "reason": "Forgot to clock off"},
        )

        assert 'value="2026-03-03T16:00"' in page.text
        assert response.url == reverse("shopfloor:job-detail", args=[span.operation.job_id]) + "#hours"
        span.refresh_from_db()
        assert span.hours_until(NOON) == 3.5

    @pytest.mark.parametrize(
        ("changed", "words"),
        [
            ({"ended_at": "2026-03-03T15:00"}, "The end lies before the start."),
            ({"ended_at": "2026-03-05T15:00"}, "The end lies ahead."),
            ({"ended_at": "half past"}, "Write date and time, such as"),
            ({"ended_at": ""}, "Give date and time."),
            ({"reason": ""}, "Say why it is corrected."),
            ({"started_at": "2026-03-01T15:00"}, "more than 24 hours"),
        ],
    )
    def test_what_cannot_be_is_refused_and_kept_as_typed(self, client, manager, span, changed, words):
        typed = {"started_at": "2026-03-03T16:00", "ended_at": "2026-03-03T19:30", "reason": "Went home early"}

        response = client.post(self.url(span), typed | changed)

        assert response.status_code == 422
        assert words in unescape(response.text)
        for value in (typed | changed).values():
            assert value in response.text
        span.refresh_from_db()
        assert span.ended_at is None
        assert not JournalEntry.objects.exists()

    def test_an_hour_that_the_clock_skips_is_refused(self, client, clock, manager, span):
        clock.move_to(datetime(2026, 3, 8, 18, tzinfo=UTC))

        response = client.post(
            self.url(span), {"started_at": "2026-03-08T01:30", "ended_at": "2026-03-08T02:30", "reason": "Night shift"}
        )

        assert response.status_code == 422
        assert "The clock skips that hour" in response.text

    def test_the_second_of_two_like_hours_is_kept_when_left_as_shown(self, client, clock, manager, span):
        second_half_past_one = datetime(2026, 11, 1, 7, 30, 12, tzinfo=UTC)
        WorkSpan.objects.filter(pk=span.pk).update(started_at=second_half_past_one)
        clock.move_to(second_half_past_one + 5 * HOUR)

        client.post(
            self.url(span), {"started_at": "2026-11-01T01:30", "ended_at": "2026-11-01T03:30", "reason": "Night shift"}
        )

        span.refresh_from_db()
        assert span.started_at == second_half_past_one

    def test_a_technician_may_not(self, client, technician, span):
        assert client.get(self.url(span)).status_code == 403
        assert client.post(self.url(span)).status_code == 403

    def test_another_shops_manager_finds_nothing(self, client, span):
        client.force_login(PersonFactory(manager=True))

        assert client.get(self.url(span)).status_code == 404
        assert client.post(self.url(span)).status_code == 404


class TestMaterials:
    def url(self, operation):
        return reverse("jobs:material-note", args=[operation.pk])

    def typed(self, **changed):
        return {"key": str(uuid.uuid4()), "name": "Lap sealant", "quantity": "2,5", "unit": "tubes"} | changed

    def test_a_technician_notes_what_was_used(self, client, job):
        operation = operation_of(job, finished=True)

        assert self.url(operation) in client.get(page_of(job)).text
        response = client.post(self.url(operation), self.typed())

        assert response.url == self.url(operation)
        assert "2.5 tubes Lap sealant, Imani Feld" in client.get(response.url).text
        assert "Took 2.5 tubes Lap sealant." in client.get(page_of(job)).text

    @pytest.mark.parametrize(
        ("changed", "words"),
        [
            ({"quantity": "a lot"}, "Write a number, such as 2.5."),
            ({"quantity": "0"}, "At least 0.001, please."),
            ({"name": " "}, "Say what was used"),
            ({"unit": ""}, "Tubes, feet, sheets?"),
        ],
    )
    def test_what_is_missing_is_asked_for_and_the_rest_kept(self, client, job, changed, words):
        operation = operation_of(job, running=True)

        response = client.post(self.url(operation), self.typed() | changed)

        assert response.status_code == 422
        assert words in response.text
        assert not operation.materials_used.exists()

    def test_work_not_started_takes_nothing(self, client, job):
        operation = operation_of(job)

        assert "Note it" not in client.get(self.url(operation)).text
        assert client.post(self.url(operation), self.typed()).status_code == 422

    def test_another_shop_finds_nothing(self, client, job):
        operation = operation_of(job, running=True)
        client.force_login(PersonFactory())

        assert client.get(self.url(operation)).status_code == 404
        assert client.post(self.url(operation), self.typed()).status_code == 404
