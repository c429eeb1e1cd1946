"""The manager's pages of actual hours: the catalogue's steps, and one job."""

import uuid
from datetime import timedelta
from html import unescape

import pytest
import time_machine
from django.urls import reverse

from estimates.models import HoursAccepted, RecipeOperation
from jobs.models import MaterialUse
from tests.factories import (
    NOON,
    FindingFactory,
    JobFactory,
    OperationFactory,
    PersonFactory,
    RatesFactory,
    RemedyFactory,
    SkillFactory,
    StandardRemedyFactory,
    WorkSpanFactory,
)

pytestmark = pytest.mark.django_db
ACTUALS = reverse("estimates:actuals")
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def manager(client):
    person = PersonFactory(manager=True)
    RatesFactory(shop=person.shop)
    client.force_login(person)
    return person


@pytest.fixture
def job(manager):
    return JobFactory(shop=manager.shop, in_bay=True)


@pytest.fixture
def step(manager):
    return RecipeOperation.objects.create(
        standard_remedy=StandardRemedyFactory(shop=manager.shop, name="Open up"),
        position=1,
        phase=1,
        words="Strip the skin",
        kind="labour",
        basis="area_ft2",
        hours_per_unit=0.1,
        skill=SkillFactory(shop=manager.shop),
    )


def operation_of(job, **kwargs):
    return OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job, is_booked=True)), **kwargs)


def done(job, step):
    """Two hours estimated and worth it by the catalogue, four clocked."""
    operation = operation_of(job, finished=True, recipe_key=step.key, units=20.0)
    WorkSpanFactory(operation=operation, started_at=NOON - 5 * HOUR)
    return operation


def use(client, step, seen):
    return client.post(reverse("estimates:hours-accept", args=[step.pk]), {"seen": seen})


class TestActuals:
    def test_a_step_shows_its_record_and_what_that_suggests(self, client, job, step):
        done(job, step)

        text = unescape(client.get(ACTUALS).text)

        assert "Strip the skin" in text
        assert "1 finished job took 2.00 times the catalogue's hours on average." in text
        assert "Suggested: 0.1143 h per unit (now 0.1)." in text
        assert "The record counts for 14 %; the hours in force count for the rest" in text
        assert reverse("estimates:hours-accept", args=[step.pk]) in text

    def test_a_manager_takes_it_over_and_the_page_says_what_was(self, client, job, step, manager):
        done(job, step)
        [row] = client.get(ACTUALS).context["rows"]

        response = use(client, step, row.seen)

        assert response.url == ACTUALS
        step.refresh_from_db()
        assert step.hours_per_unit == 0.1143
        assert HoursAccepted.objects.get().by == manager
        text = unescape(client.get(ACTUALS).text)
        assert "by Wren Ashdown on 1 finished job: before, 0.1 h a square foot." in text
        assert reverse("estimates:hours-accept", args=[step.pk]) not in text

    def test_figures_that_moved_on_are_shown_anew_and_nothing_is_taken_over(self, client, job, step):
        done(job, step)
        [row] = client.get(ACTUALS).context["rows"]
        done(job, step)

        response = use(client, step, row.seen)

        assert response.status_code == 409
        assert "The record changed after you opened the page." in response.text
        assert "2 finished jobs" in response.text
        assert not HoursAccepted.objects.exists()

    def test_a_damaged_form_takes_nothing_over(self, client, job, step):
        done(job, step)

        assert use(client, step, "").status_code == 409
        assert not HoursAccepted.objects.exists()

    def test_with_nothing_to_take_over_it_is_refused(self, client, step):
        [row] = client.get(ACTUALS).context["unknown"]

        assert use(client, step, row.seen).status_code == 422

    def test_a_shop_without_a_record_is_told_so(self, client, step):
        text = client.get(ACTUALS).text

        assert "No operation of the catalogue has been finished with hours on the clock yet." in text
        assert "Strip the skin" in text

    def test_who_forgot_to_clock_off_is_named_with_a_way_to_correct_it(self, client, job):
        span = WorkSpanFactory(operation=operation_of(job, running=True), started_at=NOON - 24 * HOUR, ended_at=None)

        text = client.get(ACTUALS).text

        assert "still open since yesterday" in text
        assert reverse("jobs:span-mend", args=[span.pk]) in text

    def test_the_way_there_is_in_the_managers_navigation_only(self, client, manager):
        assert f'href="{ACTUALS}" aria-current="page"' in client.get(ACTUALS).text
        client.force_login(PersonFactory(shop=manager.shop))
        assert ACTUALS not in client.get(reverse("jobs:start")).text

    def test_a_technician_may_not(self, client, job, step):
        client.force_login(PersonFactory(shop=job.shop))

        assert client.get(ACTUALS).status_code == 403
        assert use(client, step, "").status_code == 403

    def test_another_shops_step_is_not_found(self, client, step):
        client.force_login(PersonFactory(manager=True))

        assert use(client, step, "").status_code == 404
        assert "Strip the skin" not in client.get(ACTUALS).text

    def test_wrong_methods_are_refused(self, client, step):
        assert client.post(ACTUALS).status_code == 405
        assert client.get(reverse("estimates:hours-accept", args=[step.pk])).status_code == 405


class TestJobPage:
    def page(self, client, job):
        return unescape(client.get(reverse("shopfloor:job-detail", args=[job.pk])).text)

    def test_it_sets_the_clock_against_the_estimate(self, client, job, step):
        done(job, step)

        text = self.page(client, job)

        assert "2 h over" in text
        assert "Who worked when" in text

    def test_rework_is_told_with_its_cost(self, client, job):
        first = operation_of(job, finished=True)
        redo = OperationFactory(remedy=first.remedy, redo_of=first, payer="shop", finished=True)
        WorkSpanFactory(operation=redo)

        text = self.page(client, job)

        assert "done again, at the shop’s cost" in text
        assert "$220.00 at your labour rate" in text

    def test_a_span_left_open_is_to_be_looked_at(self, client, job):
        WorkSpanFactory(operation=operation_of(job, running=True), started_at=NOON - 24 * HOUR, ended_at=None)

        assert "Look at these hours." in self.page(client, job)

    def test_materials_noted_are_listed(self, client, job, manager):
        operation = operation_of(job, finished=True)
        MaterialUse.objects.create(
            operation=operation,
            key=uuid.uuid4(),
            name="Lap sealant",
            quantity=2.5,
            unit="tubes",
            noted_by=manager,
            noted_at=NOON,
        )

        assert "2.5 tubes Lap sealant" in self.page(client, job)

    def test_the_number_of_queries_does_not_grow_with_the_hours(self, client, job, step, django_assert_max_num_queries):
        url = reverse("shopfloor:job-detail", args=[job.pk])
        finding = FindingFactory(job=job, is_booked=True)
        remedy = RemedyFactory(finding=finding)

        def fill(count):
            for _ in range(count):
                WorkSpanFactory(operation=OperationFactory(remedy=remedy, finished=True))

        fill(2)
        with django_assert_max_num_queries(60) as few:
            client.get(url)
        fill(6)

        with django_assert_max_num_queries(len(few)):
            client.get(url)
