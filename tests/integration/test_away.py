"""Work whose people are away: given out, running, and taken by nobody for days."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from estimates.inputs import read_shop
from estimates.models import GivenOut, ShopPlan
from estimates.plan_keys import job_key, operation_key, worker_key
from estimates.tasks import replan_shops
from jobs.models import Absence, Person
from jobs.services.work import start_operation
from shopfloor.demo.telling import drain
from tests.factories import NOON
from tests.scenes import opened_coach

pytestmark = pytest.mark.django_db

EVENING = NOON + timedelta(hours=9)
DAY = timedelta(days=1)


@pytest.fixture(scope="module")
def kept(keeper):
    with time_machine.travel(NOON, tick=False):
        return keeper(coach_by_one)


def coach_by_one():
    """Each piece of work takes one of the two technicians; today's is given out."""
    scene = opened_coach(NOON)
    scene.job.operations.update(crew=1)
    GivenOut.objects.all().delete()
    ShopPlan.objects.update(given_out_on=None)
    replan_shops()
    return scene


@pytest.fixture
def scene(client, kept):
    with time_machine.travel(NOON, tick=False):
        scene = kept()
        client.force_login(scene.manager)
        yield scene


def away(scene, person_id, days, begins_in=1):
    today = scene.shop.local_date(NOON)
    Absence.objects.create(
        person_id=person_id,
        first_on=today + timedelta(days=begins_in),
        last_on=today + timedelta(days=begins_in + days - 1),
    )


def planned(scene, operation, now):
    tasks = read_shop(scene.shop, now).schedule().jobs[job_key(scene.job.pk)].tasks
    return next(task for task in tasks if task.key == operation_key(operation.pk))


def technicians(scene):
    return Person.objects.filter(shop=scene.shop, role=Person.Role.TECHNICIAN).order_by("pk")


def replan_at(now):
    with time_machine.travel(now, tick=False):
        replan_shops()


class TestGivenOut:
    def test_what_nobody_began_goes_to_another_when_its_person_is_away_from_tomorrow(self, scene):
        row = GivenOut.objects.first()
        away(scene, row.worker_ids[0], 9)

        task = planned(scene, row.operation, EVENING)

        assert scene.shop.local_date(task.start_at) == scene.shop.local_date(NOON + DAY)
        assert worker_key(row.worker_ids[0]) not in task.workers

    def test_it_stays_with_who_is_there_tomorrow(self, scene):
        row = GivenOut.objects.first()

        assert planned(scene, row.operation, EVENING).workers == (worker_key(row.worker_ids[0]),)

    def test_by_day_it_stays_with_who_can_end_it_before_being_away(self, scene):
        row = GivenOut.objects.first()
        away(scene, row.worker_ids[0], 9)

        assert planned(scene, row.operation, NOON).workers == (worker_key(row.worker_ids[0]),)

    def test_it_goes_to_another_when_its_person_is_away_before_it_could_end(self, scene):
        row = GivenOut.objects.first()
        type(row.operation).objects.filter(pk=row.operation_id).update(hours=30.0, is_in_one_shift=False)
        away(scene, row.worker_ids[0], 9)

        assert worker_key(row.worker_ids[0]) not in planned(scene, row.operation, NOON).workers


class TestRunning:
    @pytest.fixture
    def running(self, scene):
        operation = scene.job.operations.order_by("phase", "position").first()
        type(operation).objects.filter(pk=operation.pk).update(hours=30.0, is_in_one_shift=False)
        start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
        away(scene, scene.technician.pk, 9)
        drain(NOON)
        return operation

    def test_board_and_job_page_say_who_is_away_and_until_when(self, client, scene, running):
        words = (
            f"“{running.words}” is begun by {scene.technician.get_full_name() or scene.technician.username}, "
            "who is away from Mar 5, 2026 to Mar 13, 2026."
        )

        assert words in client.get("/manager/").content.decode()
        assert words in client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).content.decode()

    def test_it_goes_on_with_whoever_joins_and_the_notice_goes(self, client, scene, running):
        other = technicians(scene).exclude(pk=scene.technician.pk).get()
        start_operation(operation_id=running.pk, by=other, now=NOON)
        drain(NOON)

        replan_at(EVENING)

        task = planned(scene, running, EVENING)
        assert task.workers == (worker_key(other.pk),)
        assert task.end_at < EVENING + 6 * DAY
        assert ShopPlan.objects.get().long_waits == []


class TestNobody:
    def test_work_that_nobody_can_take_for_days_is_said_with_the_skill_and_the_day(self, client, scene):
        for person in technicians(scene):
            away(scene, person.pk, 9)

        replan_at(EVENING)

        notices = ShopPlan.objects.get().long_waits
        assert notices
        assert all(pk == scene.job.pk for pk, _ in notices)
        assert "waits until Mar 16, 2026: nobody with the skill" in notices[0][1]
        assert "here before Mar 14, 2026" in notices[0][1]
        assert "Needs a hand" in client.get("/manager/").content.decode()

    def test_a_day_off_is_no_news(self, scene):
        for person in technicians(scene):
            away(scene, person.pk, 1)

        replan_at(EVENING)

        assert ShopPlan.objects.get().long_waits == []
