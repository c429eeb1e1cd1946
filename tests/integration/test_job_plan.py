"""The plan section of the manager's job page: what is to come, what sets the date, what the coach waits for."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import escape

from estimates.inputs import read_shop
from estimates.job_plan import read_coach_plan, span_words
from estimates.models import PlannedTask
from estimates.plan_keys import job_key
from jobs.services.work import finish_operation, start_operation
from shopfloor.demo.telling import drain
from tests.factories import NOON
from tests.scenes import find_rot, mark, opened_coach, walk
from updates.story import tell_story

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(client):
    with time_machine.travel(NOON, tick=False):
        scene = opened_coach(NOON)
        client.force_login(scene.manager)
        yield scene


def page_of(client, scene):
    return client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).content.decode()


def test_the_rows_that_set_the_date_are_the_planners_critical_ones(scene):
    schedule = read_shop(scene.shop, NOON).schedule()

    plan = read_coach_plan(scene.job)

    critical = set(schedule.jobs[job_key(scene.job.pk)].critical)
    assert {row.task.key for row in plan.critical} == {row.task.key for row in plan.rows} & critical
    assert plan.critical


def test_what_is_finished_is_not_to_come(scene):
    operation = scene.job.operations.first()
    start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
    drain(NOON)
    assert [row.task.operation for row in read_coach_plan(scene.job).rows if row.is_running] == [operation]

    finish_operation(operation_id=operation.pk, by=scene.technician, now=NOON + timedelta(hours=1))
    drain(NOON + timedelta(hours=1))

    assert operation not in [row.task.operation for row in read_coach_plan(scene.job).rows]


def test_the_page_names_who_does_what_and_what_the_coach_waits_for(client, scene):
    find_rot(scene)
    drain(NOON)

    page = page_of(client, scene)

    assert f"The coach waits for: <strong>{escape(scene.job.forecast.waits_for)}</strong>" in page
    assert scene.technician.get_full_name() in page
    assert "if the owner says yes" in page
    assert "Sets the date" in page or "Could end later by" in page


def test_room_is_shown_only_where_the_planner_knows_it(client, scene):
    PlannedTask.objects.update(slack=None)
    assert "Could end later by" not in page_of(client, scene)

    rest = PlannedTask.objects.filter(job=scene.job, is_critical=False).update(slack=timedelta(hours=27))
    PlannedTask.objects.filter(job=scene.job, is_critical=True).update(slack=timedelta(0))

    page = page_of(client, scene)
    assert "Could end later by" in page
    assert ("1 day 3 hours" in page) == bool(rest)


def test_a_coach_without_a_plan_says_so(client, scene):
    PlannedTask.objects.all().delete()

    assert "Nothing is left to do on this coach." in page_of(client, scene)


def test_more_work_asks_no_more_queries(scene):
    with CaptureQueriesContext(connection) as few:
        read_coach_plan(scene.job)
    find_rot(scene)
    drain(NOON)

    with CaptureQueriesContext(connection) as more:
        read_coach_plan(scene.job)

    assert len(more) == len(few) == 3


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (timedelta(0), "no room"),
        (timedelta(minutes=1), "1 minute"),
        (timedelta(hours=5, minutes=30), "5 hours 30 minutes"),
        (timedelta(days=2, minutes=5), "2 days 5 minutes"),
        (timedelta(days=1, hours=1, minutes=5), "1 day 1 hour"),
    ],
)
def test_a_span_is_told_in_its_two_largest_units(span, words):
    assert span_words(span) == words


def test_a_station_without_a_drying_date_is_why_there_are_no_odds_and_the_owner_hears_no_promise_hold(client, scene):
    station = mark(scene)
    for hours, moisture_pct in ((0, 24.0), (12, 27.0), (24, 31.0)):
        walk(scene, NOON + timedelta(hours=hours), {station: moisture_pct}, air=(20.0, 45.0))
        drain(NOON + timedelta(hours=hours))

    with time_machine.travel(NOON + timedelta(hours=24), tick=False):
        page = page_of(client, scene)
        story = tell_story(scene.job, scene.owner, today=scene.shop.local_date(NOON))

    assert f"none: station {station.number} has no drying date, so the plan’s date is not sure either." in page
    assert story.undated == "1 spot in the wood has no drying date yet"


def test_a_date_after_the_end_of_the_last_work_says_why(client, scene):
    forecast = scene.job.forecast
    last = PlannedTask.objects.filter(job=scene.job).order_by("end_at").last()
    assert "while the shop is closed" not in page_of(client, scene)

    type(forecast).objects.filter(pk=forecast.pk).update(expected_at=last.end_at + timedelta(hours=12))

    assert "while the shop is closed; the coach can be handed over from" in page_of(client, scene)
