"""One meaning of “answered on a day”: in the question block, plan, owner's page and what-if."""

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from estimates.inputs import read_shop
from estimates.models import PlannedTask, QuestionOutlook
from estimates.plan_keys import answer_key
from estimates.services.planning import replan_for_time, work_out_plan
from estimates.what_if import WhatIf, ask
from jobs.models import ApprovalRequest
from jobs.services.booking import BookedWork, book_job
from shopfloor.demo.telling import drain
from tests.factories import NOON, CoachFactory
from tests.scenes import FRONT_EDGE, find_rot, opened_coach
from updates.links import make_link

pytestmark = pytest.mark.django_db

EVENING = timedelta(hours=10)  # after NOON: the shop is closed by then


def asked_coach():
    """A coach with an open question, and another that waits for the one bay."""
    scene = opened_coach(NOON)
    remedy = scene.shop.standard_remedies.get(name="Renew the edge seal")
    book_job(
        coach=CoachFactory(shop=scene.shop, make="Brindlewick"),
        complaint="Drip.",
        arrives_on=scene.shop.local_date(NOON),
        work=[BookedWork("failed_seal", FRONT_EDGE, "Open.", remedy)],
        by=scene.manager,
        now=NOON,
    )
    drain(NOON)
    find_rot(scene)
    drain(NOON)
    return scene


@pytest.fixture(scope="module")
def kept(keeper):
    with time_machine.travel(NOON, tick=False):
        return keeper(asked_coach)


@pytest.fixture
def scene(kept):
    with time_machine.travel(NOON, tick=False):
        yield kept()


# By day, in the evening of the day it was asked, and once the answer is overdue (by day and in the evening).
MOMENTS = [timedelta(0), EVENING, timedelta(days=2), timedelta(days=2) + EVENING]


def planned(scene, after):
    """The question's outlook by a plan of that much after noon."""
    now = NOON + after
    with time_machine.travel(now, tick=False):
        replan_for_time(work_out_plan(read_shop(scene.shop, now)), now=now)
    scene.job.forecast.refresh_from_db()
    return read_shop(scene.shop, now), QuestionOutlook.objects.get()


@pytest.mark.parametrize("after", MOMENTS)
def test_the_what_if_and_the_question_give_one_date_for_an_answer_on_a_day(scene, after):
    snapshot, outlook = planned(scene, after)
    finding = outlook.request.finding

    for row in outlook.rows:
        answer = ask(snapshot, WhatIf(answers={finding.pk: row.day}))
        own = next(coach for coach in answer.coaches if coach.job == scene.job)
        others = {coach.job.pk: coach.days for coach in answer.coaches if coach.days and coach.job != scene.job}
        assert (own.then_on, own.days) == (row.ready_on, row.days)
        assert dict(row.others) == others
    assert len(outlook.later) == 3


@pytest.mark.parametrize("after", MOMENTS)
def test_days_are_counted_from_the_date_that_is_shown_with_a_yes(scene, after):
    _, outlook = planned(scene, after)

    assert outlook.ready_with_on == scene.job.forecast.expected_on
    for row in outlook.rows:
        assert row.days == (row.ready_on - scene.job.forecast.expected_on).days


@pytest.mark.parametrize("after", MOMENTS)
def test_the_plans_row_the_time_asked_for_and_the_latest_answer_are_consistent(scene, after):
    _, outlook = planned(scene, after)
    asked = outlook.request
    row = PlannedTask.objects.get(key=answer_key(asked.finding_id))

    assert outlook.answer_at == row.end_at == max(asked.answer_by_at, NOON + after)
    assert row.end_at + row.slack == outlook.free_for_all_at >= outlook.answer_at
    assert row.is_critical == (outlook.free_at == outlook.answer_at)
    assert outlook.free_for_all_at <= outlook.free_at
    late = [each for each in outlook.rows if each.day > scene.shop.local_date(outlook.answer_at)]
    if outlook.free_at == outlook.answer_at:
        assert late[0].days > 0
    else:
        closings = {each.day: each for each in outlook.rows}
        assert closings[scene.shop.local_date(outlook.free_at)].days <= 0


def test_an_answer_given_on_a_day_brings_the_date_that_was_told(scene):
    """Planned anew in the evening of each day with the answer of that day, the shop has the date the row had said."""
    snapshot, outlook = planned(scene, timedelta(0))
    finding = outlook.request.finding.pk
    row = outlook.later[0]
    closes_at = scene.shop.calendar().day_shifts(row.day)[-1][1]

    ready_on = snapshot.ready_on(answers={finding: closes_at})

    assert ready_on[scene.job.pk] == row.ready_on


def test_the_pages_say_what_a_day_means_and_from_when_days_count(client, scene):
    client.force_login(scene.manager)
    owner = Client()
    owner.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=scene.now).split("/o/")[1])

    job_page = client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).text
    what_if = client.get(reverse("shopfloor:what-if")).text
    story = owner.get(reverse("updates:job-story", args=[scene.job.public_id])).text

    for page in (job_page, what_if):
        assert "An answer on a day is one that is here when the shop closes that day" in page
    assert "days count from the date with an answer by then" in job_page
    assert "reaches us before we close that day" in story


def test_an_overdue_answer_is_said_to_be_so(client, scene):
    client.force_login(scene.manager)
    planned(scene, timedelta(days=2))

    with time_machine.travel(NOON + timedelta(days=2), tick=False):
        page = client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).text

    assert "This is past" in page
    assert ApprovalRequest.objects.get().answer_by_at < NOON + timedelta(days=2)
