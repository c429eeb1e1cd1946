"""Odds belong to the plan they were drawn from; beside another one they are said to be old, and promised by nobody."""

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from estimates.inputs import read_shop
from estimates.models import JobForecast, ShopPlan
from estimates.services.odds import work_out_odds
from estimates.services.planning import replan_for_time, work_out_plan
from jobs.models import Promise
from jobs.services.booking import set_priority
from shopfloor.demo.telling import drain
from tests.factories import NOON
from tests.scenes import find_rot
from updates.links import make_link

pytestmark = pytest.mark.django_db

LATER = NOON + timedelta(minutes=20)
TO_PROMISE = "The date to promise"


@pytest.fixture
def scene(kept_coach):
    with time_machine.travel(NOON, tick=False):
        yield kept_coach()


def pages_of(scene, client):
    """The board and the manager's page of the job."""
    client.force_login(scene.manager)
    addresses = (reverse("shopfloor:board"), reverse("shopfloor:job-detail", args=[scene.job.pk]))
    return [" ".join(client.get(address).text.split()) for address in addresses]


def story_of(scene):
    browser = Client()
    browser.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=NOON).split("/o/")[1])
    return browser.get(reverse("updates:job-story", args=[scene.job.public_id])).text


def odds_of(even_on, safe_on):
    JobForecast.objects.update(even_on=even_on, safe_on=safe_on)


def plan_anew(scene, at):
    replan_for_time(work_out_plan(read_shop(scene.shop, at)), now=at)


def test_odds_of_the_plan_in_force_name_the_date_to_promise(scene, client):
    work_out_odds(scene.shop, now=NOON, samples=20)

    board, job = pages_of(scene, client)

    assert TO_PROMISE in job
    assert "(old)" not in board
    assert "from before" not in board + job


def test_odds_from_before_the_last_plan_are_said_to_be_old_and_not_to_be_promised(scene, client):
    work_out_odds(scene.shop, now=NOON, samples=20)
    plan_anew(scene, LATER)

    board, job = pages_of(scene, client)

    for page in (board, job):
        assert "from before the last plan; new ones are being worked out" in page
    assert "(old)" in board
    assert TO_PROMISE not in job
    assert "Not to be promised" in job

    work_out_odds(scene.shop, now=LATER, samples=20)
    board, job = pages_of(scene, client)
    assert "from before" not in board + job


def test_while_a_change_is_not_planned_yet_plan_and_odds_are_said_to_be_old(scene, client):
    work_out_odds(scene.shop, now=NOON, samples=20)
    set_priority(job_id=scene.job.pk, priority=2, by=scene.manager, now=LATER)

    board, job = pages_of(scene, client)

    for page in (board, job):
        assert "from before the last change, which the plan does not take in yet either" in page
    assert TO_PROMISE not in job


def test_no_odds_are_worked_out_of_a_shop_that_is_still_to_be_planned(scene):
    ShopPlan.objects.update(odds_at=None)
    set_priority(job_id=scene.job.pk, priority=2, by=scene.manager, now=LATER)

    assert not work_out_odds(scene.shop, now=LATER, samples=20)

    drain(LATER)
    assert work_out_odds(scene.shop, now=LATER, samples=20)


def test_odds_drawn_while_the_plan_was_made_anew_are_not_taken_for_the_new_ones(scene, monkeypatch):
    from estimates.services import odds as service

    simulate = service.shop_odds

    def slowly(snapshot, **kwargs):
        # Made from rows read a moment before, kept while the odds are drawn.
        ShopPlan.objects.update(made_at=LATER - timedelta(seconds=2))
        return simulate(snapshot, **kwargs)

    monkeypatch.setattr(service, "shop_odds", slowly)
    work_out_odds(scene.shop, now=LATER, samples=20)
    monkeypatch.undo()

    assert work_out_odds(scene.shop, now=LATER, samples=20), "they are still due"


def test_an_owner_is_shown_no_odds_that_another_plan_has_overtaken(scene):
    work_out_odds(scene.shop, now=NOON, samples=20)
    odds_of("2027-01-19", "2027-02-02")
    assert "Tuesday, February 2, 2027" in story_of(scene)

    plan_anew(scene, LATER)

    story = story_of(scene)
    assert "Wise to count on" not in story
    assert "February 2" not in story


def test_an_owner_without_a_promise_is_shown_no_odds_before_the_plans_date(scene):
    work_out_odds(scene.shop, now=NOON, samples=20)
    Promise.objects.all().delete()
    expected_on = JobForecast.objects.get(job=scene.job).expected_on
    odds_of(expected_on - timedelta(days=2), expected_on - timedelta(days=1))

    story = story_of(scene)

    assert "By our plan, if all goes well" in story
    assert "As likely as not" not in story
    assert "Wise to count on" not in story


def test_a_question_shows_no_odds_that_another_plan_has_overtaken(scene, client):
    find_rot(scene)
    drain(NOON)
    work_out_odds(scene.shop, now=NOON, samples=20)
    assert "does to the odds" in pages_of(scene, client)[1]

    plan_anew(scene, LATER)

    assert "does to the odds" not in pages_of(scene, client)[1]
