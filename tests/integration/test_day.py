"""Today's list: what each person has, what was given out and stays so, and giving it out anew."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from estimates.day import read_day
from estimates.inputs import read_shop
from estimates.models import GivenOut, PlannedTask, ShopPlan
from estimates.plan_keys import job_key, operation_key, worker_key
from estimates.services.planning import replan_for_time, work_out_plan
from jobs.models import Absence, JournalEntry, Operation, Person
from jobs.services.work import finish_operation, start_operation
from shopfloor.demo.telling import drain
from tests.factories import NOON, PersonFactory
from tests.scenes import find_rot

pytestmark = pytest.mark.django_db

DAY, GIVE_OUT = "/manager/today/", "/manager/today/give-out/"
# The shop opens at 7:00 in Chicago, 13:00 UTC.
BEFORE_OPENING = NOON - timedelta(hours=6)


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        yield scene


def replan(scene, now=NOON):
    return replan_for_time(work_out_plan(read_shop(scene.shop, now)), now=now)


def task_of(scene, operation, now=NOON):
    tasks = read_shop(scene.shop, now)._problem(120).jobs[0].tasks
    return next(task for task in tasks if task.key == operation_key(operation.pk))


def test_each_person_has_what_the_plan_names_them_for(client, scene):
    response = client.get(DAY)

    shown = {(each.person.pk, row.task.pk) for each in response.context["day"].people for row in each.rows}
    today = scene.shop.local_date(NOON)
    planned = {
        (pk, task.pk)
        for task in PlannedTask.objects.filter(kind="labour")
        if scene.shop.local_date(task.start_at) <= today <= scene.shop.local_date(task.end_at)
        for pk in task.worker_ids
    }
    assert shown == planned
    assert shown
    page = response.content.decode()
    assert f"{scene.job.number} {scene.coach}" in page
    assert str(scene.bay) in page


def test_the_first_plan_after_opening_gives_the_day_out(scene):
    plan = ShopPlan.objects.get()
    assert plan.given_out_on == scene.shop.local_date(NOON)
    assert plan.given_out_by is None
    starts = {row.operation_id for row in GivenOut.objects.all()}
    due = {
        task.operation_id
        for task in PlannedTask.objects.filter(kind="labour", operation__isnull=False)
        if scene.shop.local_date(task.start_at) == plan.given_out_on
    }
    assert starts == due
    assert starts


def test_nothing_is_given_out_before_the_shop_opens_or_on_a_closed_day(scene):
    for now in (BEFORE_OPENING + timedelta(days=1), NOON + timedelta(days=3)):
        replan(scene, now)

        assert ShopPlan.objects.get().given_out_on == scene.shop.local_date(NOON)


def test_a_start_that_was_given_out_is_fixed_for_the_planner_with_its_people(scene):
    row = GivenOut.objects.first()

    task = task_of(scene, row.operation)

    assert task.frozen_at == row.start_at
    assert task.fixed_workers == tuple(worker_key(pk) for pk in row.worker_ids)


def test_what_was_given_out_yesterday_binds_nobody_today(scene):
    row = GivenOut.objects.first()

    assert task_of(scene, row.operation, NOON + timedelta(days=1)).frozen_at is None


def test_a_start_given_to_somebody_who_is_away_today_no_longer_stands(scene):
    row = GivenOut.objects.first()
    today = scene.shop.local_date(NOON)
    Absence.objects.create(person_id=row.worker_ids[0], first_on=today, last_on=today)

    assert task_of(scene, row.operation).frozen_at is None


def test_work_that_has_begun_is_held_by_those_who_are_on_it(scene):
    row = GivenOut.objects.first()
    start_operation(operation_id=row.operation_id, by=scene.technician, now=NOON)

    task = task_of(scene, row.operation)

    assert task.frozen_at is None
    assert task.fixed_workers == (worker_key(scene.technician.pk),)


def test_a_recompute_gives_nothing_out_again_and_a_press_does(client, scene):
    GivenOut.objects.all().delete()
    replan(scene)
    assert not GivenOut.objects.exists()

    response = client.post(GIVE_OUT, follow=True)

    assert "Today’s work is given out." in response.content.decode()
    assert GivenOut.objects.exists()
    assert ShopPlan.objects.get().given_out_by == scene.manager
    assert f"by {scene.manager.get_full_name()}" in response.content.decode()


def test_a_press_plans_without_what_was_given_out_before(client, scene):
    row = GivenOut.objects.first()
    GivenOut.objects.filter(pk=row.pk).update(start_at=NOON + timedelta(hours=3))

    client.post(GIVE_OUT)

    schedule = read_shop(scene.shop, NOON).given_out_anew().schedule().jobs[job_key(scene.job.pk)]
    free = next(task for task in schedule.tasks if task.key == operation_key(row.operation_id))
    assert GivenOut.objects.get(operation=row.operation).start_at == free.start_at == NOON


def test_a_press_is_refused_when_a_newer_plan_is_there(client, scene):
    newer = JournalEntry.objects.latest("pk").pk + 1
    ShopPlan.objects.update(last_entry=newer)
    before = list(GivenOut.objects.values())

    page = client.post(GIVE_OUT, follow=True).content.decode()

    assert "Please press again." in page
    assert list(GivenOut.objects.values()) == before


def test_a_press_says_why_when_no_plan_can_be_made(client, scene):
    Person.objects.filter(shop=scene.shop, role="technician").update(is_active=False)

    assert "No plan can be made:" in client.post(GIVE_OUT, follow=True).content.decode()


def test_a_technician_finds_their_own_day_on_the_first_page(client, scene):
    day = read_day(scene.shop, NOON)
    with_work = day.people[0].person
    client.force_login(with_work)

    page = client.get(reverse("jobs:start")).content.decode()

    assert "Your work" in page
    assert day.people[0].rows[0].task.words in page


def test_a_technician_without_work_is_told_so(client, scene):
    client.force_login(PersonFactory(shop=scene.shop))

    assert "The plan has no work for you on this day." in client.get(reverse("jobs:start")).content.decode()


@pytest.mark.parametrize(("hours", "days_on"), [(0, 0), (3.9, 0), (4.1, 1), (2 * 24 + 5, 5)])
def test_once_the_shop_has_closed_the_next_day_it_opens_is_listed(client, scene, hours, days_on):
    with time_machine.travel(NOON + timedelta(hours=hours), tick=False):
        response = client.get(DAY)

    day = response.context["day"]
    assert day.on == scene.shop.local_date(NOON) + timedelta(days=days_on)
    assert day.is_today == (days_on == 0)
    assert (GIVE_OUT in response.content.decode()) == day.is_today


def test_a_shop_without_hours_lists_today(scene):
    scene.shop.hours.all().delete()

    assert read_day(scene.shop, NOON).on == scene.shop.local_date(NOON)


def test_what_came_after_the_day_was_given_out_says_so_and_before_that_nothing_does(scene):
    row = GivenOut.objects.first()
    row.delete()

    day = read_day(scene.shop, NOON)
    states = {each.task.operation_id: each.state for person in day.people for each in person.rows}
    assert states[row.operation_id] == "came since it was given out"

    ShopPlan.objects.update(given_out_on=None)
    day = read_day(scene.shop, NOON)
    assert {each.state for person in day.people for each in person.rows} == {""}


def test_finished_and_running_work_says_so(scene):
    first = Operation.objects.filter(given_out__isnull=False).first()
    start_operation(operation_id=first.pk, by=scene.technician, now=NOON)
    drain(NOON)
    assert [row.state for row in read_day(scene.shop, NOON).of(scene.technician).rows][:1] == ["running"]

    finish_operation(operation_id=first.pk, by=scene.technician, now=NOON + timedelta(hours=1))
    drain(NOON + timedelta(hours=1))

    rows = read_day(scene.shop, NOON + timedelta(hours=1)).of(scene.technician).rows
    assert [row.state for row in rows if row.task.operation_id == first.pk] == ["finished"]


def test_waits_that_end_today_and_checks_that_fall_due_are_listed(client, scene):
    wait = PlannedTask.objects.filter(kind="wait").first()
    check = PlannedTask.objects.filter(key__startswith="hold").first()
    PlannedTask.objects.filter(pk__in=[wait.pk, check.pk]).update(
        start_at=NOON + timedelta(hours=1), end_at=NOON + timedelta(hours=1)
    )

    day = read_day(scene.shop, NOON)

    assert wait.pk in [row.task.pk for row in day.waits]
    assert check.pk in [row.task.pk for row in day.checks]
    page = client.get(DAY).content.decode()
    assert "Waits that end" in page
    assert check.words in page


def test_cautions_of_the_work_stand_on_the_list(client, scene):
    remedy = GivenOut.objects.first().operation.remedy.standard
    remedy.caution = "Cut the shore power before you open the wall."
    remedy.save()

    assert "Cut the shore power before you open the wall." in client.get(DAY).content.decode()


def test_more_coaches_ask_no_more_queries(scene):
    with CaptureQueriesContext(connection) as few:
        read_day(scene.shop, NOON)
    find_rot(scene)
    drain(NOON)

    with CaptureQueriesContext(connection) as more:
        read_day(scene.shop, NOON)

    assert len(more) == len(few) <= 6


def test_only_a_manager_sees_the_list_of_all_and_gives_out(client, scene):
    assert client.get(GIVE_OUT).status_code == 405
    assert client.post(DAY).status_code == 405
    client.force_login(scene.technician)
    assert client.get(DAY).status_code == 403
    assert client.post(GIVE_OUT).status_code == 403
    client.logout()
    assert client.get(DAY)["Location"].startswith(reverse("jobs:sign-in"))
