"""Booking a coach in."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from jobs.calc.faces import Face, Place
from jobs.errors import JobError, NotNow
from jobs.models import Coach, CoachOwner, Finding, Job, Owner
from jobs.services.booking import BookedWork
from shopfloor.demo.telling import drain
from shopfloor.services import NewCoach, NewOwner, book_in
from tests.factories import NOON, BayFactory, CoachFactory, JobFactory, OwnerFactory, PersonFactory
from tests.scenes import working_shop

pytestmark = pytest.mark.django_db

BOOK = "/manager/jobs/book/"


@pytest.fixture(scope="module")
def kept_shop(keeper):
    return keeper(working_shop)


@pytest.fixture
def manager(client, kept_shop):
    with time_machine.travel(NOON, tick=False):
        _, manager, _, _ = kept_shop()
        client.force_login(manager)
        yield manager


@pytest.fixture
def remedy(manager):
    return manager.shop.standard_remedies.get(name="Renew the edge seal")


def stay(**changes):
    return {
        "make": "Brindlewick",
        "model": "Tern",
        "year": "2014",
        "body": "fifth_wheel",
        "wall_build": "bonded",
        "length": "30' 6\"",
        "width": "8'",
        "height": "8 ft 3 in",
        "owner_name": "Agnes Thorsby",
        "owner_email": "agnes@post.example",
        "owner_phone": "+1 555 0199",
        "owner_locale": "en_CA",
        "owner_may_decide": "on",
        "complaint": "Soft floor by the door.",
        "arrives_on": "2026-03-10",
        "priority": "4",
    } | changes


def work(remedy, number=1, **changes):
    given = {
        "kind": "failed_seal",
        "face": "roof",
        "left": "0",
        "top": "6",
        "width": "3'",
        "height": "7'",
        "seen": "Cracked seal at the front edge.",
        "remedy": remedy.pk,
    } | changes
    return {f"work{number}-{name}": value for name, value in given.items()}


def nothing_stored():
    return not (Job.objects.exists() or Coach.objects.exists() or Owner.objects.exists() or Finding.objects.exists())


class TestPage:
    def test_it_asks_in_the_shops_units(self, client, manager):
        page = client.get(BOOK).content.decode()

        assert 'data-units="us"' in page
        assert "work4-kind" in page

    def test_a_new_coach_is_booked_with_its_owner_and_its_work(self, client, manager, remedy):
        response = client.post(BOOK, stay() | work(remedy) | work(remedy, 3, face="rear", left="1'", width="2'"))

        job = Job.objects.get()
        owner = job.coach.owners.get()
        assert response["Location"] == reverse("shopfloor:job-detail", args=[job.pk])
        assert str(job.coach) == "2014 Brindlewick Tern"
        assert (job.coach.body, job.coach.wall_build) == ("fifth_wheel", "bonded")
        assert job.coach.length_mm == pytest.approx(30.5 * 304.8)
        assert (owner.name, owner.locale, owner.phone) == ("Agnes Thorsby", "en_CA", "+1 555 0199")
        assert list(job.deciders()) == [owner]
        assert [(each.number, each.face, each.is_booked) for each in job.findings.all()] == [
            (1, "roof", True),
            (2, "rear", True),
        ]
        assert (job.priority, job.complaint, job.shop) == (4, "Soft floor by the door.", manager.shop)

    def test_the_framing_of_a_new_coach_is_kept_as_far_as_it_is_known(self, client, manager, remedy):
        client.post(BOOK, stay(roof_spacing='16"', wall_spacing="2'", wall_run="along") | work(remedy))

        coach = Coach.objects.get()
        assert (coach.roof_spacing_mm, coach.wall_spacing_mm) == (pytest.approx(406.4), pytest.approx(609.6))
        assert (coach.roof_run, coach.wall_run) == ("across", "along")
        assert coach.floor_spacing_mm is None

    def test_a_slip_in_the_framing_is_refused_and_shown_open(self, client, manager, remedy):
        response = client.post(BOOK, stay(floor_spacing="16'") | work(remedy))

        assert response.status_code == 422
        assert "Members stand" in response.text
        assert "<details open>" in response.text
        assert nothing_stored()

    def test_the_worker_then_writes_the_first_revision_and_the_plan(self, client, manager, remedy):
        client.post(BOOK, stay(promised_on="2026-04-20") | work(remedy))

        drain(NOON)

        job = Job.objects.get()
        assert job.revisions.get().number == 1
        assert job.forecast.expected_on > NOON.date()
        assert str(job.promise.ready_on) == "2026-04-20"

    def test_a_known_coach_needs_no_owner_again(self, client, manager, remedy):
        coach = CoachFactory(shop=manager.shop)
        bay = BayFactory(shop=manager.shop)
        fields = {"coach": coach.pk, "complaint": "Drip.", "arrives_on": "2026-03-10", "priority": 5, "bay": bay.pk}

        client.post(BOOK, fields | work(remedy))

        assert (Job.objects.get().coach, Job.objects.get().bay) == (coach, bay)
        assert Owner.objects.count() == 1

    def test_an_owner_on_file_gets_a_second_coach(self, client, manager, remedy):
        owner = OwnerFactory(shop=manager.shop, name="Agnes Thorsby", email="Agnes@post.example")

        client.post(BOOK, stay() | work(remedy))

        assert Job.objects.get().coach.owners.get() == owner

    def test_an_owner_who_may_not_decide_is_noted_so(self, client, manager, remedy):
        client.post(BOOK, {k: v for k, v in stay().items() if k != "owner_may_decide"} | work(remedy))

        assert not CoachOwner.objects.get().may_decide

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"make": ""}, "A new coach needs this."),
            ({"length": ""}, "A new coach needs this."),
            ({"owner_email": "nowhere"}, "Enter a valid email address."),
            ({"length": "very long"}, "very long"),
            ({"length": "6 in"}, "lies between"),
            ({"year": "1066"}, "greater than or equal to 1920"),
            ({"complaint": ""}, "This field is required."),
            ({"arrives_on": "soon"}, "Enter a valid date."),
            ({"promised_on": "2026-03-09"}, "before the coach arrives"),
            (
                {"promised_on": "2026-04-19"},
                "The shop is closed on Sunday, April 19. It opens next on Monday, April 20.",
            ),
            ({"priority": "12"}, "less than or equal to 9"),
            ({"work1-left": "a bit"}, "a bit"),
            ({"work1-height": "0"}, "Must be more than nothing"),
            ({"work1-seen": ""}, "This field is required."),
            ({"work1-width": "29'", "work1-left": "3'"}, "roof"),
            ({"work2-kind": "mould"}, "This field is required."),
        ],
    )
    def test_a_refused_booking_keeps_what_was_typed_and_stores_nothing(self, client, manager, remedy, changes, words):
        response = client.post(BOOK, stay() | work(remedy) | changes)

        page = response.content.decode()
        assert response.status_code == 422
        assert words in page
        assert "Nothing is booked yet." in page
        typed = changes.get("owner_name", "Agnes Thorsby")
        assert f'value="{typed}"' in page
        assert all(f'value="{value}"' in page for value in changes.values() if value in {"soon", "very long", "a bit"})
        assert nothing_stored()

    def test_without_any_work_nothing_is_booked(self, client, manager):
        assert client.post(BOOK, stay()).status_code == 422
        assert nothing_stored()

    def test_a_bay_that_is_too_short_is_refused(self, client, manager, remedy):
        bay = BayFactory(shop=manager.shop, longest_coach_mm=5000)

        response = client.post(BOOK, stay(bay=bay.pk) | work(remedy))

        assert response.status_code == 422
        assert f"too long for {bay}" in response.content.decode()
        assert nothing_stored()

    def test_a_promise_in_the_past_leaves_nothing_of_the_booking_behind(self, client, manager, remedy):
        response = client.post(BOOK, stay(arrives_on="2026-03-01", promised_on="2026-03-02") | work(remedy))

        assert response.status_code == 422
        assert "That day has passed." in response.content.decode()
        assert nothing_stored()

    def test_rows_of_another_shop_cannot_be_chosen(self, client, manager, remedy):
        other = JobFactory(in_bay=True)
        others_remedy = working_shop()[0].standard_remedies.first()
        before = Job.objects.count()

        for changes in ({"coach": CoachFactory().pk}, {"bay": other.bay.pk}, {"work1-remedy": others_remedy.pk}):
            assert client.post(BOOK, stay() | work(remedy) | changes).status_code == 422

        assert Job.objects.count() == before

    def test_a_coach_that_is_in_work_is_not_offered(self, client, manager):
        busy = JobFactory(shop=manager.shop).coach

        assert busy not in client.get(BOOK).context["booking"].stay.fields["coach"].queryset

    def test_technicians_strangers_and_other_methods_are_refused(self, client, manager):
        assert client.put(BOOK).status_code == 405
        client.force_login(PersonFactory(shop=manager.shop))
        assert client.get(BOOK).status_code == 403
        assert client.post(BOOK).status_code == 403
        client.logout()
        assert client.get(BOOK)["Location"].startswith(reverse("jobs:sign-in"))


class TestService:
    NEW = NewCoach(
        "Brindlewick",
        "",
        2014,
        "motorhome",
        "bonded",
        9000,
        2500,
        2700,
        NewOwner("A. Thorsby", "a@post.example", "", "en_US", True),
    )

    def book(self, manager, remedy, **changes):
        given = {
            "coach": self.NEW,
            "complaint": "Drip.",
            "arrives_on": NOON.date() + timedelta(days=3),
            "work": [BookedWork("failed_seal", Place(Face.ROOF, 0, 0, 900, 900), "Cracked.", remedy)],
            "bay": None,
            "priority": 5,
            "promised_on": None,
            "by": manager,
            "now": NOON,
        }
        return book_in(**given | changes)

    def test_a_place_off_the_coach_is_refused(self, manager, remedy):
        work = [BookedWork("failed_seal", Place(Face.REAR, 2000, 0, 900, 900), "Cracked.", remedy)]

        with pytest.raises(JobError):
            self.book(manager, remedy, work=work)
        assert nothing_stored()

    def test_a_coach_in_work_is_refused(self, manager, remedy):
        busy = JobFactory(shop=manager.shop).coach

        with pytest.raises(NotNow, match="already has an open job"):
            self.book(manager, remedy, coach=busy)

    def test_a_person_without_a_shop_cannot_book(self, manager, remedy):
        with pytest.raises(NotNow, match="Only a person of a shop"):
            self.book(PersonFactory(manager=True, shop=None, is_superuser=True), remedy)
