"""With and without: what each remedy of an open question does to this coach and to the others, as kept and shown."""

import uuid
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from estimates.inputs import read_shop
from estimates.models import OptionDate, QuestionOdds
from estimates.odds import odds_of
from estimates.option_days import read_question_days
from estimates.plan_keys import job_key
from estimates.services.odds import work_out_odds
from jobs.models import ApprovalRequest
from jobs.services.approvals import withdraw_request
from jobs.services.booking import BookedWork, book_job
from jobs.services.remedies import OwnRemedy
from shopfloor.demo.telling import drain
from tests.factories import NOON, CoachFactory
from tests.scenes import FRONT_EDGE, find_rot

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        yield scene


@pytest.fixture
def behind(scene):
    """A second coach that waits for the one bay."""
    remedy = scene.shop.standard_remedies.get(name="Renew the edge seal")
    job = book_job(
        coach=CoachFactory(shop=scene.shop, make="Brindlewick"),
        complaint="Drip.",
        arrives_on=scene.shop.local_date(NOON),
        work=[BookedWork("failed_seal", FRONT_EDGE, "Open.", remedy)],
        by=scene.manager,
        now=NOON,
    )
    drain(NOON)
    return job


@pytest.fixture
def asked(scene, behind):
    """A remedy of a week's waiting, which nobody who stands behind it can be glad of."""
    skill = scene.shop.skills.first()
    find_rot(scene, remedy=OwnRemedy("Dry it out slowly", 2.0, skill, wait_hours=168.0))
    drain(NOON)
    return ApprovalRequest.objects.open().get()


def test_each_remedy_is_shown_for_its_own_coach_and_for_the_one_it_pushes(scene, behind, asked):
    days = read_question_days([asked])[asked.pk]

    first = days.options[0]
    own, other = first.coaches
    assert (own.job, other.job) == (scene.job, behind)
    assert own.days >= 7
    assert other.days > 0
    assert own.without_on == days.without_on == asked.outlook.ready_without_on


def test_the_days_are_those_of_the_plan_asked_with_each_answer(scene, behind, asked):
    snapshot = read_shop(scene.shop, NOON)
    remedies = list(asked.choices.order_by("position"))

    for remedy in [*remedies, None]:
        schedule = snapshot.schedule({asked.finding_id: remedy.pk if remedy else None})
        for job in (scene.job, behind):
            kept = OptionDate.objects.get(request=asked, remedy=remedy, job=job)
            assert kept.ready_on == scene.shop.local_date(schedule.jobs[job_key(job.pk)].ready_at)
    assert OptionDate.objects.count() == 2 * (len(remedies) + 1)


def test_coaches_that_no_answer_moves_are_not_kept(scene):
    find_rot(scene)
    drain(NOON)

    assert {row.job_id for row in OptionDate.objects.all()} == {scene.job.pk}


def test_nothing_is_kept_once_the_question_is_closed(scene, asked):
    withdraw_request(request_id=asked.pk, reason="Looked again.", by=scene.manager, now=NOON)
    drain(NOON)

    assert not OptionDate.objects.exists()


def test_the_pages_of_the_finding_and_of_the_job_show_it(client, scene, behind, asked):
    for url in (
        reverse("jobs:finding-detail", args=[asked.finding_id]),
        reverse("shopfloor:job-detail", args=[scene.job.pk]),
    ):
        page = client.get(url).content.decode()

        assert "With and without, by the plan as it stands now" in page
        assert f"{behind.number} 2011 Brindlewick" in page


def test_what_a_yes_does_to_the_odds_is_simulated_with_the_same_numbers(client, scene, behind, asked):
    work_out_odds(scene.shop, now=NOON, samples=100)

    odds = asked.odds
    snapshot = read_shop(scene.shop, NOON)
    told = odds_of(snapshot, samples=100)[scene.job.pk]
    left = replace(snapshot, pending={})
    without = odds_of(left, samples=100)[scene.job.pk]
    assert (odds.even_with_on, odds.safe_with_on) == (told.even_on, told.safe_on)
    assert (odds.even_without_on, odds.safe_without_on) == (without.even_on, without.safe_on)
    assert (odds.safe_with_on - odds.safe_without_on).days >= 5, "a week's waiting"
    safe_on = [odds_of(each, samples=100)[behind.pk].safe_on for each in (left, snapshot)]
    days = (safe_on[1] - safe_on[0]).days
    assert odds.others == [[behind.pk, days]], "the coach behind it"
    assert days > 0
    for url in (
        reverse("jobs:finding-detail", args=[asked.finding_id]),
        reverse("shopfloor:job-detail", args=[scene.job.pk]),
    ):
        page = client.get(url).text
        assert "What a yes to “Dry it out slowly” does to the odds" in page
        assert f"{odds.safe_without_on:%a, %b} {odds.safe_without_on.day}" in page
        named = f"{behind.number} {behind.coach} (+{days} days)"
        assert f"By the odds a yes makes these dates to promise later: {named}. Promise by the odds" in page


def test_the_odds_of_a_question_go_once_it_is_closed(scene, asked):
    work_out_odds(scene.shop, now=NOON, samples=50)
    later = NOON + timedelta(minutes=1)
    withdraw_request(request_id=asked.pk, reason="Looked again.", by=scene.manager, now=later)
    drain(later)

    work_out_odds(scene.shop, now=later, samples=50)

    assert not QuestionOdds.objects.exists()


def test_a_technician_sees_it_too_and_is_told_when_nobody_else_is_moved(client, scene):
    find_rot(scene)
    drain(NOON)
    client.force_login(scene.technician)

    page = client.get(reverse("jobs:finding-detail", args=[ApprovalRequest.objects.get().finding_id])).content.decode()

    assert "By the plan, if all goes well, neither a yes nor a no moves another coach." in page


def test_the_job_page_asks_no_more_for_more_questions(client, scene):
    find_rot(scene)
    drain(NOON)
    url = reverse("shopfloor:job-detail", args=[scene.job.pk])
    with CaptureQueriesContext(connection) as one:
        client.get(url)
    find_rot(scene, key=uuid.uuid4(), now=NOON + timedelta(minutes=1))
    drain(NOON + timedelta(minutes=1))
    assert ApprovalRequest.objects.open().count() == 2

    with CaptureQueriesContext(connection) as two:
        client.get(url)

    for table in ("optiondate", "questionodds"):
        days = [query["sql"] for query in two if table in query["sql"]]
        assert len(days) == len([query for query in one if table in query["sql"]]) == 1


def test_an_owner_asked_in_the_evening_is_given_until_the_shop_opens(scene):
    evening = NOON + timedelta(hours=10)
    find_rot(scene, now=evening)
    drain(evening)

    # A day later it is ten at night; at seven the shop opens, six hours behind.
    assert ApprovalRequest.objects.get().answer_by_at == datetime(2026, 3, 6, 13, tzinfo=UTC)
