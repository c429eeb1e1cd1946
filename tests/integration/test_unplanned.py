"""One coach that cannot be planned: it stays out with the reason, and the others are planned all the same."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from estimates.models import DateChange, JobForecast, PlannedTask, ShopPlan
from estimates.tasks import replan_shops, work_out_shops_odds
from jobs.models import Bay, Coach, Job, Operation, Person, Reaction, ShopHours
from jobs.services.booking import check_in, set_priority
from jobs.services.work import finish_operation, start_operation
from shopfloor.demo.telling import drain
from tests.factories import NOON, CoachFactory
from tests.integration.test_manager_booking import BOOK, stay, work
from tests.scenes import book_behind, find_rot, opened_coach

pytestmark = pytest.mark.django_db

BOARD = "/manager/"
NO_BAY = "No bay is long enough for the coach of job 102"


@pytest.fixture(scope="module")
def kept(keeper):
    with time_machine.travel(NOON, tick=False):
        return keeper(two_coaches)


def two_coaches():
    """Job 101 stands opened in the one bay, job 102 is here and planned after it."""
    scene = opened_coach(NOON)
    other = book_behind(scene)
    check_in(job_id=other.pk, by=scene.manager, now=NOON)
    drain(NOON)
    return scene, other


@pytest.fixture
def scene(client, kept):
    with time_machine.travel(NOON, tick=False):
        scene, other = kept()
        client.force_login(scene.manager)
        scene.other = other
        yield scene


def grow(scene):
    """The other coach turns out to be longer than every bay."""
    Coach.objects.filter(pk=scene.other.coach_id).update(length_mm=17_000.0)


def replanned(scene, now=NOON):
    set_priority(job_id=scene.job.pk, priority=2, by=scene.manager, now=now)
    drain(now)


class TestBooking:
    def test_a_coach_that_fits_no_bay_is_refused_beside_its_length_and_what_was_typed_is_kept(self, client, scene):
        remedy = scene.shop.standard_remedies.get(name="Renew the edge seal")

        response = client.post(BOOK, stay(length="55'", priority="7") | work(remedy))

        assert response.status_code == 422
        refusal = response.context["booking"].stay.errors["length"][0]
        assert refusal.startswith("This coach is too long for every bay of the shop; the longest takes 42")
        assert 'value="55&#x27;"' in response.text
        assert Job.objects.count() == 2

    def test_a_known_coach_that_fits_no_bay_is_refused_beside_its_name(self, client, scene):
        coach = CoachFactory(shop=scene.shop, length_mm=17_000.0)
        remedy = scene.shop.standard_remedies.get(name="Renew the edge seal")

        response = client.post(BOOK, stay(coach=coach.pk) | work(remedy))

        assert response.status_code == 422
        assert "too long for every bay" in response.context["booking"].stay.errors["coach"][0]


class TestPlan:
    def test_the_others_are_planned_and_it_has_no_date(self, scene):
        grow(scene)

        replanned(scene)

        plan = ShopPlan.objects.get()
        assert not Reaction.objects.exclude(state=Reaction.State.DONE).exists()
        assert plan.why_unplanned(scene.other.pk).startswith(NO_BAY)
        assert plan.why_unplanned(scene.job.pk) == ""
        assert JobForecast.objects.filter(job=scene.job).exists()
        assert PlannedTask.objects.filter(job=scene.job).exists()
        assert not JobForecast.objects.filter(job=scene.other).exists()
        assert not PlannedTask.objects.filter(job=scene.other).exists()

    def test_the_others_have_odds(self, scene):
        grow(scene)
        replanned(scene)

        work_out_shops_odds()

        assert JobForecast.objects.get().safe_on

    def test_a_finding_on_another_coach_gets_its_price_and_days(self, scene):
        grow(scene)

        finding = find_rot(scene)
        drain(NOON)

        assert finding.requests.exists()

    def test_a_finding_on_the_coach_itself_says_why_it_has_no_days(self, client, scene):
        grow(scene)
        scene.job = scene.other

        find_rot(scene)
        drain(NOON)

        assert NO_BAY in client.get(BOARD).content.decode()
        assert Reaction.objects.get(state=Reaction.State.GIVEN_UP).last_error.startswith(NO_BAY)

    def test_planned_again_its_moves_go_on_from_the_date_it_had(self, scene):
        had_on = JobForecast.objects.get(job=scene.other).expected_on
        grow(scene)
        replanned(scene)
        Bay.objects.update(longest_coach_mm=18_000.0)

        later = NOON + timedelta(days=7)
        set_priority(job_id=scene.job.pk, priority=3, by=scene.manager, now=later)
        drain(later)

        assert ShopPlan.objects.get().unplanned == {}
        moves = list(DateChange.objects.filter(job=scene.other))
        expected_on = JobForecast.objects.get(job=scene.other).expected_on
        assert expected_on > had_on
        assert moves[-1].to_on == expected_on
        assert [move.from_on for move in moves] == [None, *(move.to_on for move in moves[:-1])]

    def test_work_that_was_done_elsewhere_does_not_stop_the_account_of_what_moved(self, scene):
        """Taken out again, the end of its last work that needs a bay leaves a coach that no bay is long enough for."""
        for operation in Operation.objects.filter(job=scene.other).order_by("phase", "position", "pk"):
            start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
            finish_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
        grow(scene)

        drain(NOON)

        assert not Reaction.objects.exclude(state=Reaction.State.DONE).exists()
        assert ShopPlan.objects.get().unplanned == {}


class TestPages:
    def test_board_and_job_page_say_so_and_why(self, client, scene):
        grow(scene)
        replanned(scene)

        board = client.get(BOARD).content.decode()
        page = client.get(reverse("shopfloor:job-detail", args=[scene.other.pk])).content.decode()

        assert "Needs a hand" in board
        assert "could not be planned:</strong> " + NO_BAY in board
        assert "This coach could not be planned:</strong> " + NO_BAY in page
        assert "Nothing is left to do" not in page
        assert "not planned yet" not in page

    def test_what_if_and_first_date_answer_and_say_who_is_left_out(self, client, scene):
        grow(scene)
        replanned(scene)

        what_if = client.get("/manager/what-if/", {f"priority{scene.job.pk}": "1"})
        first = client.get("/manager/first-date/")

        assert what_if.status_code == first.status_code == 200
        assert NO_BAY in what_if.content.decode()
        assert NO_BAY in first.content.decode()

    def test_a_change_of_people_that_leaves_work_to_nobody_says_which(self, client, scene):
        Operation.objects.filter(job=scene.other).update(crew=2)
        people = Person.objects.filter(shop=scene.shop, role=Person.Role.TECHNICIAN)
        people.exclude(pk=scene.technician.pk).update(is_active=False)

        page = client.post(
            reverse("shopfloor:person-hours", args=[scene.technician.pk]),
            {"opens0": "09:00", "closes0": "13:00"},
            follow=True,
        )

        assert page.status_code == 200
        assert "needs 2 with the skill" in ShopPlan.objects.get().why_unplanned(scene.other.pk)


class TestShop:
    def test_a_shop_without_hours_says_so_on_the_board_and_the_old_dates_stand(self, client, scene):
        ShopHours.objects.all().delete()

        replan_shops()

        board = client.get(BOARD).content.decode()
        assert "No newer plan of the shop can be made.</strong> The shop has no opening hours" in board
        assert JobForecast.objects.count() == 2

    def test_once_it_can_be_planned_the_notice_goes(self, client, scene):
        ShopPlan.objects.update(refusal="The shop has no opening hours.")

        replan_shops()

        assert "No newer plan" not in client.get(BOARD).content.decode()


class TestRegister:
    def test_a_bay_that_is_shortened_or_lengthened_is_planned_at_once(self, client, scene):
        scene.manager.is_superuser = scene.manager.is_staff = True
        scene.manager.save()

        page = client.post(register(scene), filled(client.get(register(scene)), longest_coach_mm=5_000.0), follow=True)

        assert NO_BAY in page.text
        assert ShopPlan.objects.get().why_unplanned(scene.other.pk).startswith(NO_BAY)

        client.post(register(scene), filled(client.get(register(scene)), longest_coach_mm=13_000.0))
        assert ShopPlan.objects.get().unplanned == {}
        assert JobForecast.objects.filter(job=scene.other).exists()


def register(scene):
    return reverse("admin:jobs_shop_change", args=[scene.shop.pk])


def filled(response, **changes):
    """The register's form as it stands, with changes."""
    parts = [response.context["adminform"].form]
    for inline in response.context["inline_admin_formsets"]:
        parts += [inline.formset.management_form, *inline.formset.forms]
    given = {}
    for part in parts:
        for name in part.fields:
            value = changes.get(name, part[name].value()) if name in part.fields else None
            given[part.add_prefix(name)] = "" if value is None else value
    return given
