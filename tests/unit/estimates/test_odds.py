"""The odds of a coach's date: simulated with what may be hidden, kept once for each plan."""

from datetime import date, timedelta

import numpy as np
import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from estimates.calc.plan import HorizonTooShort
from estimates.inputs import read_shop
from estimates.models import DayForecast, JobForecast, ShopPlan
from estimates.odds import HIDDEN, LABOUR_SHARE, odds_of, with_hidden_damage
from estimates.outlook import hidden_damage
from estimates.plan_keys import job_key, phase_key
from estimates.services import odds as odds_service
from estimates.services.odds import work_out_odds
from estimates.services.planning import replan_for_time, work_out_plan
from estimates.tasks import work_out_shops_odds
from jobs.models import StationForecast
from jobs.models.work import Phase
from jobs.services.work import finish_operation, start_operation
from shopfloor.demo.telling import drain
from tests.factories import NOON, JobFactory, ReadingFactory, StationFactory
from tests.paper_scenes import answer
from tests.scenes import find_rot
from updates.links import make_link

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(kept_coach):
    with time_machine.travel(NOON, tick=False):
        yield kept_coach()


def hidden_tasks(snapshot):
    problem = with_hidden_damage(snapshot)._problem(120)
    [altered] = with_hidden_damage(snapshot).alter(problem).jobs
    return {task.key: task for task in altered.tasks}


def test_a_coach_not_opened_yet_may_hide_damage_at_the_odds_of_its_leak(scene):
    found = hidden_damage(scene.job)

    tasks = hidden_tasks(read_shop(scene.shop, NOON))

    hidden = tasks[HIDDEN]
    usd = float(found.if_found_p50_usd) * LABOUR_SHARE
    assert hidden.chance == found.odds
    assert hidden.duration == timedelta(hours=usd / float(scene.shop.rates.labour_usd_per_hour))
    ratio = float(found.if_found_p80_usd / found.if_found_p50_usd)
    assert hidden.spread.at(np.array([0.5, 0.8])) == pytest.approx([1.0, ratio], rel=1e-4)
    assert hidden.after == (phase_key(Phase.OPEN_UP),)
    waiting = [task.key for task in tasks.values() if HIDDEN in task.after]
    assert waiting, "something waits until it is mended"


def test_no_plan_counts_on_it(scene):
    snapshot = read_shop(scene.shop, NOON)

    assert with_hidden_damage(snapshot).ready() == snapshot.ready()


def test_once_opened_there_is_nothing_left_to_be_found_by_chance(scene):
    for operation in scene.job.operations.filter(phase=Phase.OPEN_UP):
        start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
        finish_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
    snapshot = read_shop(scene.shop, NOON)

    assert with_hidden_damage(snapshot) is snapshot


def test_work_found_since_that_opens_more_hides_nothing_anew(scene):
    scene.job.operations.filter(phase=Phase.OPEN_UP).update(started_at=NOON, finished_at=NOON)
    find_rot(scene, kind="wet_insulation", remedy=scene.shop.standard_remedies.get(name="Renew wet insulation"))
    drain(NOON)
    answer(scene, NOON, channel="in_person")
    snapshot = read_shop(scene.shop, NOON)

    assert scene.job.operations.unfinished().filter(phase=Phase.OPEN_UP).exists()
    assert with_hidden_damage(snapshot) is snapshot


def test_the_odds_stand_in_order_and_come_out_the_same_each_time(scene):
    snapshot = read_shop(scene.shop, NOON)

    odds = odds_of(snapshot, samples=200)[scene.job.pk]

    planned_on = scene.shop.local_date(snapshot.ready()[job_key(scene.job.pk)])
    assert planned_on <= odds.even_on <= odds.safe_on, "a plan takes all to go well"
    assert odds_of(read_shop(scene.shop, NOON), samples=200)[scene.job.pk] == odds


def test_what_may_be_hidden_makes_the_safe_date_later(scene):
    snapshot = read_shop(scene.shop, NOON)
    with_it = odds_of(snapshot, samples=400)[scene.job.pk]
    scene.shop.rates.labour_usd_per_hour = 0
    scene.shop.rates.save()

    without_it = odds_of(read_shop(scene.shop, NOON), samples=400)[scene.job.pk]

    assert with_it.safe_on > without_it.safe_on


def test_where_a_course_outlasts_every_plan_no_old_odds_are_left_standing(scene, monkeypatch):
    work_out_odds(scene.shop, now=NOON)
    kept = JobForecast.objects.get(job=scene.job)

    def too_long(*_, **__):
        raise HorizonTooShort("Work cannot end by then.")

    monkeypatch.setattr(odds_service, "shop_odds", too_long)
    ShopPlan.objects.filter(shop=scene.shop).update(odds_at=None)
    work_out_odds(scene.shop, now=NOON)
    now_said = JobForecast.objects.get(job=scene.job)

    assert kept.even_on is not None
    assert (now_said.even_on, now_said.safe_on, now_said.expected_on) == (None, None, kept.expected_on)


def test_they_are_worked_out_once_for_each_plan(scene):
    assert work_out_odds(scene.shop, now=NOON)
    assert not work_out_odds(scene.shop, now=NOON + timedelta(minutes=1))
    later = NOON + timedelta(minutes=20)
    replan_for_time(work_out_plan(read_shop(scene.shop, later)), now=later)

    assert work_out_odds(scene.shop, now=later)
    forecast = JobForecast.objects.get(job=scene.job)
    assert forecast.expected_on <= forecast.even_on <= forecast.safe_on
    assert ShopPlan.objects.get().odds_at == later


def plan_and_simulate(scene, at):
    replan_for_time(work_out_plan(read_shop(scene.shop, at)), now=at)
    work_out_odds(scene.shop, now=at, samples=100)


def test_what_was_said_first_on_a_day_is_kept_for_good(scene):
    morning, later, tomorrow = (NOON + timedelta(hours=hours) for hours in (0, 3, 24))
    plan_and_simulate(scene, morning)
    first = DayForecast.objects.get()
    scene.job.operations.update(hours=40)

    plan_and_simulate(scene, later)
    plan_and_simulate(scene, tomorrow)

    assert list(DayForecast.objects.values_list("on", flat=True)) == [each.date() for each in (NOON, tomorrow)]
    kept, anew = DayForecast.objects.order_by("on")
    assert (kept.made_at, kept.planned_on, kept.safe_on) == (morning, first.planned_on, first.safe_on)
    assert kept.planned_on <= kept.even_on <= kept.safe_on
    assert anew.safe_on > kept.safe_on
    with pytest.raises(IntegrityError, match="never changed"), transaction.atomic():
        DayForecast.objects.update(safe_on="2030-01-01")


def test_nothing_is_kept_of_a_coach_whose_work_is_not_written_down_yet(scene):
    JobFactory(shop=scene.shop, number=900)

    plan_and_simulate(scene, NOON)

    assert DayForecast.objects.get().job == scene.job


def test_a_shop_without_a_plan_has_no_odds(scene):
    ShopPlan.objects.all().delete()

    assert not work_out_odds(scene.shop, now=NOON)


def test_board_job_page_and_owner_show_both_dates(scene, client):
    work_out_odds(scene.shop, now=NOON)
    JobForecast.objects.filter(job=scene.job).update(even_on="2026-03-17", safe_on="2026-03-20")
    client.force_login(scene.manager)
    owner = Client()

    board = client.get(reverse("shopfloor:board")).text
    job = client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).text
    owner.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=NOON).split("/o/")[1])
    story = owner.get(reverse("updates:job-story", args=[scene.job.public_id])).text

    for page in (board, job):
        assert "Tue, Mar 17" in page
        assert "Fri, Mar 20" in page
    # Once a date is promised, an owner is not shown a sooner one that may go again.
    assert scene.job.promise.ready_on < date(2026, 3, 20)
    assert "As likely as not ready by" not in story
    assert "Friday, March 20, 2026" in story


def test_the_worker_does_it_for_every_shop(scene):
    drain(NOON)
    work_out_shops_odds()

    assert JobForecast.objects.get(job=scene.job).safe_on is not None


def hold_up(scene):
    station = StationFactory(job=scene.job)
    reading = ReadingFactory(station=station)
    StationForecast.objects.create(
        station=station,
        round=reading.round,
        worked_out_at=NOON,
        outcome="rising",
        reason="gets wetter",
        limit_pct=19.0,
        equilibrium_pct=9.0,
        rate_low_per_h=0.01,
        rate_per_h=0.02,
        rate_high_per_h=0.03,
        rate_origin="a test",
        curve=[],
    )


def test_a_coach_that_a_wet_station_holds_up_has_no_odds(scene):
    work_out_odds(scene.shop, now=NOON)
    assert JobForecast.objects.get(job=scene.job).safe_on is not None
    hold_up(scene)
    ShopPlan.objects.update(odds_at=None)

    work_out_odds(scene.shop, now=NOON)

    assert JobForecast.objects.get(job=scene.job).safe_on is None


def test_a_day_without_odds_is_kept_as_one(scene):
    hold_up(scene)

    work_out_odds(scene.shop, now=NOON)

    kept = DayForecast.objects.get()
    assert kept.planned_on
    assert kept.even_on is kept.safe_on is None
