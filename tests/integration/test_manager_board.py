"""The board: what it shows, and what the manager sets right from it."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from estimates.calc.plan.causes import attribute
from estimates.models import DateChange, JobForecast
from estimates.overruns import steps_since
from jobs.journal import record
from jobs.models import ApprovalRequest, Person, Reaction, StationForecast, WorkSpan
from jobs.services.booking import promise_date
from jobs.services.remedies import OwnRemedy
from shopfloor.board import read_board
from shopfloor.demo.telling import drain
from tests.factories import (
    NOON,
    BayFactory,
    JobFactory,
    OperationFactory,
    PersonFactory,
    ReadingRoundFactory,
    StationFactory,
)
from tests.scenes import find_rot
from updates import kinds as update_kinds
from updates.models import Update

pytestmark = pytest.mark.django_db

BOARD = "/manager/"


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        yield scene


@pytest.fixture
def asked(scene):
    """The owner has been asked about rotten framing."""
    find_rot(scene)
    drain(NOON)
    return ApprovalRequest.objects.open().get(finding__job=scene.job)


@pytest.fixture
def late(scene):
    """A finding moves the date far past the promise."""
    skill = scene.shop.skills.get(name="framing")
    find_rot(scene, remedy=OwnRemedy("Rebuild the whole front frame", 60.0, skill))
    drain(NOON)
    return scene


def given_up(scene, why="Nobody at the shop has the skill."):
    entry = scene.job.entries.order_by("number").first()
    return Reaction.objects.create(
        entry=entry, name="work out price and days", state="given_up", attempts=7, due_at=NOON, last_error=why
    )


def forecast(job, *, days, bay=None):
    expected_at = NOON + timedelta(days=days)
    JobForecast.objects.create(
        job=job,
        expected_at=expected_at,
        expected_on=expected_at.date(),
        bay=bay,
        bay_from_at=NOON if bay else None,
        bay_until_at=expected_at if bay else None,
    )


class TestBoard:
    def test_it_shows_each_coach_as_a_bar_that_leads_to_its_job(self, client, scene):
        response = client.get(BOARD)

        page = response.content.decode()
        bars = re.findall(r'<a id="bar[^>]*href="([^"]+)" aria-label="([^"]+)"', page)
        assert response.status_code == 200
        assert [href for href, _ in bars] == [reverse("shopfloor:job-detail", args=[scene.job.pk])]
        assert bars[0][1].startswith(f"{scene.bay.name}: Job {scene.job.number}, {scene.coach}, checked in")
        assert "expected" in bars[0][1]

    def test_the_drawing_has_a_table_that_says_the_same(self, client, scene):
        page = client.get(BOARD).content.decode()

        table = page[page.index("The drawing as a table") : page.index("</details>")]
        assert f"{scene.job.number} {scene.coach}" in table
        assert scene.bay.name in table

    def test_coaches_outside_and_booked_have_their_own_rows(self, scene):
        outside = JobFactory(shop=scene.shop, number=900, arrived_at=NOON - timedelta(days=1))
        booked = JobFactory(shop=scene.shop, number=901, arrives_on=NOON.date() + timedelta(days=5))
        forecast(booked, days=9)

        bands = {band.name: [stay.number for stay in band.stays] for band in read_board(scene.shop, NOON).bands}

        assert bands == {scene.bay.name: [scene.job.number], "Outside": [outside.number], "Booked": [booked.number]}

    def test_htmx_gets_the_part_without_the_page_round_it(self, client, scene):
        part = client.get(BOARD, headers={"HX-Request": "true"})

        assert "<html" not in part.content.decode()
        assert "chart-bar" in part.content.decode()
        assert part["Vary"].count("HX-Request") == 1

    def test_it_polls_and_works_without_script(self, client, scene):
        page = client.get(BOARD).content.decode()

        assert 'hx-trigger="every 15s"' in page
        assert page.count("chart-bar") >= 1

    def test_an_empty_shop_is_told_how_to_begin(self, client):
        client.force_login(PersonFactory(manager=True))

        assert reverse("shopfloor:job-book") in client.get(BOARD).content.decode()

    def test_a_stranger_is_sent_to_sign_in(self, client):
        assert client.get(BOARD)["Location"].startswith(reverse("jobs:sign-in"))

    def test_a_technician_is_refused(self, client, scene):
        client.force_login(scene.technician)

        assert client.get(BOARD).status_code == 403

    def test_a_manager_without_a_shop_is_refused(self, client):
        client.force_login(PersonFactory(manager=True, shop=None, is_superuser=True))

        assert client.get(BOARD).status_code == 403

    def test_another_shop_is_not_on_it(self, client, scene):
        client.force_login(PersonFactory(manager=True))

        assert str(scene.coach) not in client.get(BOARD).content.decode()

    def test_posting_to_it_is_refused(self, client, scene):
        assert client.post(BOARD).status_code == 405

    @pytest.mark.parametrize("coaches", [2, 12])
    def test_the_number_of_queries_does_not_grow_with_the_coaches(self, scene, coaches, django_assert_max_num_queries):
        for number in range(coaches):
            job = JobFactory(shop=scene.shop, number=500 + number, in_bay=number % 2 == 0)
            bay = job.bay or BayFactory(shop=scene.shop)
            forecast(job, days=4, bay=bay)
            promise(scene, job, days=2)

        with django_assert_max_num_queries(20):
            board = read_board(scene.shop, NOON)

        assert len(board.jobs) == coaches + 1

    def test_stations_that_waiting_will_not_dry_are_named_where_the_coach_waits(self, client, scene):
        stalled, dry, rising = (StationFactory(job=scene.job) for _ in range(3))
        gone = StationFactory(job=scene.job, retired_at=NOON, retired_because="covered")
        taken = ReadingRoundFactory(job=scene.job)
        for station, outcome in {stalled: "stalled", dry: "dry", rising: "rising", gone: "stalled"}.items():
            StationForecast.objects.create(
                station=station,
                round=taken,
                worked_out_at=NOON,
                outcome=outcome,
                limit_pct=16.0,
                equilibrium_pct=9.0,
                rate_low_per_h=0.0,
                rate_per_h=0.0,
                rate_high_per_h=0.0,
                curve=[],
            )

        page = client.get(BOARD).content.decode()

        assert f"no drying date: stations {stalled.number}, {rising.number}</td>" in page


class TestOverruns:
    def test_a_coach_past_its_promise_is_shown_with_causes_that_add_up(self, client, late):
        page = client.get(BOARD).content.decode()

        (line,) = read_board(late.shop, NOON).overruns
        assert line.days == (JobForecast.objects.get(job=late.job).expected_on - line.promised_on).days
        assert line.days > 0
        assert sum(step.days for step in line.steps) == line.days
        assert "Finding 3, rotten framing" in [step.words for step in line.steps]
        assert f"{line.days} days over" in page
        assert "Finding 3, rotten framing" in page

    def test_a_promise_without_a_plan_counts_from_the_first_date_after_it(self, scene):
        job = JobFactory(shop=scene.shop, number=700)
        given = promise(scene, job, days=2, expected_on=None)
        for hours, from_days, to_days, words in ((1, None, 4, "First plan"), (2, 4, 5, "Finding 1")):
            DateChange.objects.create(
                job=job,
                from_on=None if from_days is None else day(from_days),
                to_on=day(to_days),
                cause="first_plan" if from_days is None else "finding",
                words=words,
                changed_at=NOON + timedelta(hours=hours),
            )

        steps = steps_since(given, job.date_changes.all())

        assert [(step.words, step.days) for step in steps] == [("Plan when the date was promised", 2), ("Finding 1", 1)]

    def test_a_promise_that_nothing_has_moved_since_has_the_plan_as_its_only_cause(self, scene):
        given = promise(scene, JobFactory(shop=scene.shop, number=700), days=2, expected_on=day(3))

        assert [step.days for step in steps_since(given, [])] == [1]
        assert attribute(day(2), day(2), []) == ()


class TestQuestion:
    def test_an_open_question_is_listed_with_price_dates_and_a_link(self, client, scene, asked):
        page = client.get(BOARD).content.decode()

        (line,) = read_board(scene.shop, NOON + timedelta(hours=3)).questions
        assert line.age == timedelta(hours=3)
        assert line.days == (line.with_on - line.without_on).days
        assert reverse("jobs:finding-detail", args=[asked.finding_id]) in page
        assert f"${line.total_usd:,.2f}" in page

    def test_it_is_taken_back_with_a_reason(self, client, asked):
        response = client.post(withdraw_url(asked), {f"withdraw{asked.pk}-reason": "Priced for the wrong place."})

        asked.refresh_from_db()
        assert response["Location"] == BOARD
        assert asked.closed_at == NOON
        assert asked.finding.job.entries.get(kind="request_withdrawn").data["reason"] == "Priced for the wrong place."

    def test_without_a_reason_it_stays_open(self, client, asked):
        response = client.post(withdraw_url(asked), {f"withdraw{asked.pk}-reason": " "})

        asked.refresh_from_db()
        assert response.status_code == 422
        assert asked.closed_at is None
        assert "This field is required" in response.content.decode()

    def test_one_that_was_answered_meanwhile_is_refused_with_409(self, client, asked):
        ApprovalRequest.objects.update(closed_at=NOON)

        response = client.post(withdraw_url(asked), {f"withdraw{asked.pk}-reason": "Too late."})

        assert response.status_code == 409
        assert "no longer open" in response.content.decode()

    def test_only_managers_of_that_shop_may(self, client, scene, asked):
        assert_guarded(client, withdraw_url(asked), scene)

        asked.refresh_from_db()
        assert asked.closed_at is None


class TestTrouble:
    def test_work_given_up_is_shown_and_tried_again(self, client, scene):
        reaction = given_up(scene)
        page = client.get(BOARD).content.decode()

        response = client.post(retry_url(reaction))

        reaction.refresh_from_db()
        assert "Nobody at the shop has the skill." in page
        assert response["Location"] == BOARD
        assert (reaction.state, reaction.attempts) == ("due", 0)

    def test_only_managers_of_that_shop_may(self, client, scene):
        reaction = given_up(scene)

        assert_guarded(client, retry_url(reaction), scene)

        reaction.refresh_from_db()
        assert reaction.state == "given_up"

    def test_a_mail_the_server_refused_is_shown_with_the_owners_phone(self, client, scene):
        entry = record(scene.job, update_kinds.UPDATE_REFUSED, now=NOON, data={"failure": "550 no such box"})
        Update.objects.create(
            job=scene.job,
            owner=scene.owner,
            entry=entry,
            family="ready",
            message={},
            written_at=NOON,
            failed_at=NOON,
            failure="The mail server said 550 no such box",
        )

        page = client.get(BOARD).content.decode()

        assert "550 no such box" in page
        assert f"tel:{scene.owner.phone}" in page


def day(days):
    return NOON.date() + timedelta(days=days)


def promise(scene, job, *, days, expected_on=None):
    return promise_date(job=job, ready_on=day(days), expected_on=expected_on, reason="", by=scene.manager, now=NOON)


def withdraw_url(asked):
    return reverse("shopfloor:request-withdraw", args=[asked.pk])


def retry_url(reaction):
    return reverse("shopfloor:reaction-retry", args=[reaction.pk])


def assert_guarded(client, url, scene):
    """GET is no way to do it; a technician may not; to another shop it does not exist; a stranger signs in."""
    assert client.get(url).status_code == 405
    client.force_login(scene.technician)
    assert client.post(url).status_code == 403
    client.force_login(PersonFactory(role=Person.Role.MANAGER))
    assert client.post(url).status_code == 404
    client.logout()
    assert client.post(url)["Location"].startswith(reverse("jobs:sign-in"))


class TestNeedsAHand:
    def test_a_clock_left_running_over_night_is_named_and_can_be_corrected(self, client, scene):
        operation = OperationFactory(remedy=scene.job.operations.first().remedy, position=90, running=True)
        WorkSpan.objects.create(operation=operation, person=scene.technician, started_at=NOON - timedelta(hours=26))
        own = WorkSpan.objects.create(operation=operation, person=scene.manager, started_at=NOON - timedelta(hours=2))

        page = client.get(BOARD).content.decode()

        (row,) = read_board(scene.shop, NOON).left_open
        assert row.span.person == scene.technician
        assert f"{scene.technician.get_full_name()} is on the clock since Tue, Mar 3, 10:00 AM" in page
        assert reverse("jobs:span-mend", args=[row.span.pk]) in page
        assert reverse("jobs:span-mend", args=[own.pk]) not in page

    def test_work_that_no_shift_is_long_enough_for_is_named_on_the_board_and_the_job(self, client, scene):
        remedy = scene.job.operations.first().remedy
        long = OperationFactory(
            remedy=remedy, position=90, words="Weld the whole roof", hours=30.0, is_in_one_shift=True
        )
        OperationFactory(remedy=remedy, position=91, words="Bond the edge", hours=2.0, is_in_one_shift=True)

        (each,) = read_board(scene.shop, NOON).pausing

        longest = f"the longest shift is {each.longest_shift_hours:g} h."
        said = f"“Weld the whole roof” takes 30 h and should be done in one shift; {longest}"
        assert each.operation == long
        assert said in client.get(BOARD).content.decode()
        assert said in client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).content.decode()
