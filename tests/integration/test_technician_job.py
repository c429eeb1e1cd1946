"""A coach's page: its work, its findings, its moves."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import HoldPoint, JournalEntry, Operation
from tests.factories import (
    NOON,
    ApprovalRequestFactory,
    BayFactory,
    DecisionFactory,
    FindingFactory,
    HoldPointFactory,
    JobFactory,
    OperationFactory,
    PersonFactory,
    PhotoFactory,
    RemedyFactory,
    StandardRemedyFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def technician(client):
    person = PersonFactory()
    client.force_login(person)
    return person


@pytest.fixture
def manager(client):
    person = PersonFactory(manager=True)
    client.force_login(person)
    return person


@pytest.fixture
def job(technician):
    return JobFactory(shop=technician.shop, in_bay=True)


def page_of(job):
    return reverse("jobs:job-detail", args=[job.pk])


def operation_of(job, **kwargs):
    return OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job, is_booked=True)), **kwargs)


def messages_of(client, response):
    return [str(message) for message in client.get(response.url).context["messages"]]


class TestPage:
    def test_it_shows_the_coach_its_findings_and_its_work(self, client, job):
        finding = FindingFactory(job=job, kind="rotten_framing")
        RemedyFactory(finding=finding)
        operation_of(job, words="Take off the roof edge trim")

        page = client.get(page_of(job))

        assert page.status_code == 200
        for words in (str(job.coach), job.complaint, "Rotten framing", "The roof", "Take off the roof edge trim"):
            assert words in page.text
        assert reverse("jobs:finding-post", args=[job.pk]) in page.text
        assert {mark.number for mark in page.context["plan"].marks} == {finding.number, 2}

    def test_newest_findings_come_first(self, client, job):
        numbers = [FindingFactory(job=job).number for _ in range(3)]

        rows = client.get(page_of(job)).context["findings"]

        assert [row.finding.number for row in rows] == numbers[::-1]

    @pytest.mark.parametrize(
        ("make", "state"),
        [
            (lambda finding: None, "being worked out"),
            (lambda finding: ApprovalRequestFactory(remedy=finding.remedies.get()), "with the owner"),
            (
                lambda finding: ApprovalRequestFactory(
                    remedy=finding.remedies.get(), closed_at=NOON + timedelta(hours=1)
                ),
                "question taken back",
            ),
            (lambda finding: DecisionFactory(request__remedy=finding.remedies.get()), "agreed"),
            (
                lambda finding: DecisionFactory(request__remedy=finding.remedies.get(), is_approved=False),
                "declined",
            ),
        ],
    )
    def test_a_finding_says_how_far_it_is(self, client, job, make, state):
        finding = FindingFactory(job=job)
        RemedyFactory(finding=finding)
        make(finding)

        page = client.get(page_of(job))

        assert [row.state for row in page.context["findings"]] == [state]
        assert f">{state}<" in page.text

    def test_the_list_looks_again_by_itself_until_all_is_worked_out(self, client, job):
        remedy = RemedyFactory(finding=FindingFactory(job=job))
        part = {"headers": {"HX-Request": "true"}}

        page = client.get(page_of(job)).text
        before = client.get(page_of(job), **part).text
        ApprovalRequestFactory(remedy=remedy)
        after = client.get(page_of(job), **part)

        for drawn in (page, before):
            assert f'hx-get="{page_of(job)}" hx-trigger="every 2s"' in drawn
            assert "renews itself every 2 seconds" in drawn
            assert f'<a href="{page_of(job)}#findings">Look again</a>' in drawn
        assert "<html" not in before
        assert "with the owner" in after.text
        assert "hx-get" not in after.text
        assert "Look again" not in after.text
        assert "HX-Request" in after["Vary"]

    def test_another_shops_people_get_no_list(self, client, job):
        client.force_login(PersonFactory())

        assert client.get(page_of(job), headers={"HX-Request": "true"}).status_code == 404

    def test_what_is_unsafe_to_leave_is_said(self, client, job):
        FindingFactory(job=job, is_unsafe_to_leave=True)

        assert "unsafe to leave" in client.get(page_of(job)).text

    def test_cautions_of_open_work_stand_above_it_once(self, client, job):
        risky = StandardRemedyFactory(shop=job.shop, caution="Unplug shore power first.")
        for _ in range(2):
            OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job), standard=risky))

        page = client.get(page_of(job))

        assert page.text.count("Unplug shore power first.") == 1

    def test_cautions_of_work_at_hand_stand_open_and_those_of_later_work_fold(self, client, job):
        now, later, asked = (
            StandardRemedyFactory(shop=job.shop, caution=words) for words in ("Prop the roof.", "No flame.", "Mask on.")
        )
        OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job), standard=now), phase=1)
        OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job), standard=later), phase=5)
        OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job)), finished=True, phase=1)
        ApprovalRequestFactory(remedy=RemedyFactory(finding=FindingFactory(job=job), standard=asked))

        page = client.get(page_of(job))

        assert [caution.words for caution in page.context["cautions"]] == ["Prop the roof."]
        assert [caution.words for caution in page.context["later_cautions"]] == ["No flame.", "Mask on."]
        assert (
            page.text.index("Prop the roof.") < page.text.index("Cautions of later work") < page.text.index("No flame.")
        )

    def test_work_says_what_it_waits_for_and_offers_no_start(self, client, job):
        first = operation_of(job, words="Open the roof", phase=1)
        operation_of(job, words="Splice the frame", phase=3)

        text = client.get(page_of(job)).text

        assert "First: finish “Open the roof”." in text
        assert text.count("/start/") == 1
        assert reverse("jobs:operation-start", args=[first.pk]) in text

    def test_a_thumb_is_shown_only_once_it_is_ready(self, client, job):
        finding = FindingFactory(job=job)
        ready = PhotoFactory(finding=finding, small="photos/a.jpg", large="photos/b.jpg")
        waiting = PhotoFactory(finding=finding)

        text = client.get(page_of(job)).text

        assert reverse("jobs:photo", args=[ready.pk, "small"]) in text
        assert reverse("jobs:photo", args=[waiting.pk, "small"]) not in text

    def test_metric_shops_read_metres(self, client):
        person = PersonFactory(shop__units="metric")
        client.force_login(person)
        job = JobFactory(shop=person.shop, arrived=True)

        assert "8.00 m long" in client.get(page_of(job)).text

    def test_the_number_of_queries_does_not_grow_with_the_job(self, client, job, django_assert_max_num_queries):
        def fill(count):
            for phase in range(count):
                finding = FindingFactory(job=job)
                PhotoFactory(finding=finding, small="photos/a.jpg", large="photos/b.jpg")
                remedy = RemedyFactory(finding=finding)
                DecisionFactory(request__remedy=remedy)
                operation = OperationFactory(remedy=remedy, finished=True, phase=1 + phase % 6)
                operation.workers.add(finding.posted_by)
                HoldPointFactory(operation=operation)

        fill(2)
        with django_assert_max_num_queries(25) as few:
            client.get(page_of(job))
        fill(10)

        with django_assert_max_num_queries(len(few)):
            client.get(page_of(job))


class TestOperations:
    def test_a_technician_starts_and_finishes_work(self, client, technician, job):
        operation = operation_of(job)

        started = client.post(reverse("jobs:operation-start", args=[operation.pk]))
        finished = client.post(reverse("jobs:operation-finish", args=[operation.pk]))

        operation.refresh_from_db()
        assert (started.status_code, started.url) == (302, page_of(job))
        assert finished.status_code == 302
        assert operation.started_at
        assert operation.finished_at
        assert list(operation.workers.all()) == [technician]

    def test_work_out_of_order_is_refused_in_words(self, client, job):
        operation_of(job, words="Open the roof", phase=1)
        later = operation_of(job, phase=3)

        response = client.post(reverse("jobs:operation-start", args=[later.pk]))

        assert "First: finish “Open the roof”." in messages_of(client, response)
        later.refresh_from_db()
        assert later.started_at is None

    def test_what_does_not_run_cannot_be_finished(self, client, job):
        operation = operation_of(job)

        response = client.post(reverse("jobs:operation-finish", args=[operation.pk]))

        assert messages_of(client, response) == ["Only running work can be finished."]

    def test_a_second_technician_joins_running_work(self, client, technician, job):
        operation = operation_of(job, running=True)
        operation.workers.add(PersonFactory(shop=job.shop))

        assert "Join" in client.get(page_of(job)).text
        client.post(reverse("jobs:operation-start", args=[operation.pk]))

        assert technician in operation.workers.all()

    def test_the_form_may_name_the_page_to_go_back_to(self, client, job):
        operation = operation_of(job)

        response = client.post(reverse("jobs:operation-start", args=[operation.pk]), {"next": "/"})

        assert response.url == "/"

    def test_the_page_to_go_back_to_is_never_on_another_site(self, client, job):
        operation = operation_of(job)

        response = client.post(reverse("jobs:operation-start", args=[operation.pk]), {"next": "//elsewhere.example/"})

        assert response.url == page_of(job)


class TestHoldPoints:
    @pytest.fixture
    def check(self, manager):
        job = JobFactory(shop=manager.shop, in_bay=True)
        return HoldPointFactory(operation=operation_of(job, finished=True))

    def test_a_manager_signs_off(self, client, manager, check):
        url = reverse("jobs:hold-point-pass", args=[check.pk])

        assert url in client.get(page_of(check.operation.job)).text
        response = client.post(url, {f"pass-{check.pk}-note": "Dry and hard"})

        check.refresh_from_db()
        assert response.status_code == 302
        assert check.passed_at
        assert (check.checked_by, check.note) == (manager, "Dry and hard")

    def test_a_manager_has_it_done_again(self, client, check):
        response = client.post(
            reverse("jobs:hold-point-fail", args=[check.pk]),
            {f"fail-{check.pk}-note": "Still wet at the corner", f"fail-{check.pk}-redo_hours": "2,5"},
        )

        assert response.status_code == 302
        redo = Operation.objects.get(redo_of=check.operation)
        assert redo.hours == 2.5
        assert redo.payer == "shop"

    def test_failing_without_a_reason_or_hours_keeps_what_was_typed_and_stores_nothing(self, client, check):
        response = client.post(
            reverse("jobs:hold-point-fail", args=[check.pk]),
            {f"fail-{check.pk}-note": "Still wet at the corner", f"fail-{check.pk}-redo_hours": "a while"},
        )

        assert response.status_code == 422
        assert "Still wet at the corner" in response.text
        assert "a while" in response.text
        assert not Operation.objects.filter(redo_of=check.operation).exists()
        assert HoldPoint.objects.waiting().filter(pk=check.pk).exists()

    def test_a_note_that_is_too_long_is_refused_and_kept(self, client, check):
        response = client.post(
            reverse("jobs:hold-point-pass", args=[check.pk]), {f"pass-{check.pk}-note": "dry " * 100}
        )

        assert response.status_code == 422
        assert "dry dry dry" in response.text
        assert HoldPoint.objects.waiting().filter(pk=check.pk).exists()

    def test_a_second_sign_off_is_refused_in_words(self, client, check):
        client.post(reverse("jobs:hold-point-pass", args=[check.pk]))

        response = client.post(reverse("jobs:hold-point-pass", args=[check.pk]))

        assert messages_of(client, response)[-1] == "This hold point has already been checked."

    def test_a_technician_sees_that_it_waits_but_cannot_sign(self, client, check):
        client.force_login(PersonFactory(shop=check.operation.job.shop))

        text = client.get(page_of(check.operation.job)).text

        assert "waits for a manager" in text
        assert "/pass/" not in text


class TestMoves:
    def test_either_role_checks_a_coach_in(self, client, technician):
        job = JobFactory(shop=technician.shop)
        url = reverse("jobs:check-in", args=[job.pk])

        assert url in client.get(page_of(job)).text
        client.post(url)

        job.refresh_from_db()
        assert job.arrived_at
        assert JournalEntry.objects.get(job=job).kind == "coach_arrived"

    def test_a_coach_is_checked_in_once(self, client, job):
        response = client.post(reverse("jobs:check-in", args=[job.pk]))

        assert messages_of(client, response) == ["This coach is already checked in."]

    def test_either_role_moves_a_coach_into_a_bay_and_out(self, client, technician):
        job = JobFactory(shop=technician.shop, arrived=True)
        bay = BayFactory(shop=technician.shop)

        client.post(reverse("jobs:move-to-bay", args=[job.pk]), {"bay": bay.pk})
        job.refresh_from_db()
        assert job.is_in_bay
        assert job.bay == bay

        client.post(reverse("jobs:leave-bay", args=[job.pk]))
        job.refresh_from_db()
        assert not job.is_in_bay

    def test_a_taken_bay_is_refused_in_words(self, client, technician, job):
        other = JobFactory(shop=technician.shop, arrived=True)

        response = client.post(reverse("jobs:move-to-bay", args=[other.pk]), {"bay": job.bay_id})

        assert messages_of(client, response) == [f"Another coach stands in {job.bay}."]

    @pytest.mark.parametrize("bay", ["", "nonsense", "999999"])
    def test_a_bay_that_is_none_is_refused_and_nothing_moves(self, client, job, bay):
        response = client.post(reverse("jobs:move-to-bay", args=[job.pk]), {"bay": bay})

        assert response.status_code == 422
        assert response.context["move_form"].errors["bay"]
        assert not JournalEntry.objects.filter(job=job).exists()

    def test_a_bay_of_another_shop_is_no_choice(self, client, job):
        foreign = BayFactory()

        response = client.post(reverse("jobs:move-to-bay", args=[job.pk]), {"bay": foreign.pk})

        assert response.status_code == 422

    def test_a_manager_hands_a_coach_back(self, client, manager):
        job = JobFactory(shop=manager.shop, in_bay=True)

        client.post(reverse("jobs:collect", args=[job.pk]))

        job.refresh_from_db()
        assert job.collected_at
        assert "Post a finding" not in client.get(page_of(job)).text

    def test_a_coach_with_open_work_is_not_handed_back(self, client, manager):
        job = JobFactory(shop=manager.shop, in_bay=True)
        operation_of(job)

        response = client.post(reverse("jobs:collect", args=[job.pk]))

        assert messages_of(client, response) == ["There is still work to finish on this coach."]


JOB_POSTS = ["check-in", "move-to-bay", "leave-bay", "collect"]
WORK_POSTS = ["operation-start", "operation-finish"]
CHECK_POSTS = ["hold-point-pass", "hold-point-fail"]


@pytest.fixture
def addresses():
    """Every address of one job, by its name."""
    job = JobFactory(in_bay=True)
    check = HoldPointFactory(operation=operation_of(job, finished=True))
    rows = {"job-detail": job} | dict.fromkeys(JOB_POSTS, job)
    rows |= dict.fromkeys(WORK_POSTS, check.operation) | dict.fromkeys(CHECK_POSTS, check)
    return {name: reverse(f"jobs:{name}", args=[row.pk]) for name, row in rows.items()} | {"shop": job.shop}


POSTS = [*JOB_POSTS, *WORK_POSTS, *CHECK_POSTS]


@pytest.mark.parametrize("name", POSTS)
def test_acts_are_posts_only(client, addresses, name):
    client.force_login(PersonFactory(shop=addresses["shop"], manager=True))

    assert client.get(addresses[name]).status_code == 405
    assert client.put(addresses[name]).status_code == 405


def test_the_page_is_for_reading_only(client, addresses):
    client.force_login(PersonFactory(shop=addresses["shop"]))

    assert client.post(addresses["job-detail"]).status_code == 405


@pytest.mark.parametrize("name", ["job-detail", *POSTS])
def test_a_stranger_is_sent_to_sign_in_and_nothing_happens(client, addresses, name):
    response = client.get(addresses[name]) if name == "job-detail" else client.post(addresses[name])

    assert response.status_code == 302
    assert response.url.startswith("/sign-in/")
    assert not JournalEntry.objects.exists()


@pytest.mark.parametrize("name", ["job-detail", *POSTS])
def test_people_of_another_shop_find_nothing(client, addresses, name):
    client.force_login(PersonFactory(manager=True))

    response = client.get(addresses[name]) if name == "job-detail" else client.post(addresses[name])

    assert response.status_code == 404
    assert not JournalEntry.objects.exists()


@pytest.mark.parametrize("name", ["collect", *CHECK_POSTS])
def test_a_technician_may_not_do_what_is_the_managers(client, addresses, name):
    client.force_login(PersonFactory(shop=addresses["shop"]))

    assert client.post(addresses[name]).status_code == 403
    assert not JournalEntry.objects.exists()
