"""The manager's list of jobs and page of a job."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.urls import reverse

from estimates.models import JobForecast
from estimates.services.odds import work_out_odds
from jobs import kinds
from jobs.journal import record
from jobs.models import ApprovalRequest, Decision, JournalEntry, Person, Promise
from shopfloor.demo.telling import drain
from tests.factories import NOON, CoachFactory, JobFactory, OwnerFactory, PersonFactory
from tests.scenes import find_rot
from updates.links import make_link
from updates.models import OwnerLink

pytestmark = pytest.mark.django_db

LIST = "/manager/jobs/"


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        yield scene


@pytest.fixture
def asked(scene):
    find_rot(scene)
    drain(NOON)
    return ApprovalRequest.objects.open().get(finding__job=scene.job)


def page_of(job):
    return reverse("shopfloor:job-detail", args=[job.pk])


def assert_guarded(client, url, scene, *, method="post"):
    """The other method is no way to do it; a technician may not; to another shop it does not exist."""
    other = client.get if method == "post" else client.post
    call = getattr(client, method)
    assert other(url).status_code == 405
    client.force_login(scene.technician)
    assert call(url).status_code == 403
    client.force_login(PersonFactory(role=Person.Role.MANAGER))
    assert call(url).status_code == 404
    client.logout()
    assert call(url)["Location"].startswith(reverse("jobs:sign-in"))


class TestList:
    def test_it_lists_open_jobs_with_their_stage(self, client, scene):
        JobFactory(shop=scene.shop, number=950, arrived_at=NOON - timedelta(days=9), collected_at=NOON)

        response = client.get(LIST)

        assert [(job.number, stage) for job, stage, *_ in response.context["lines"]] == [
            (scene.job.number, "checked in")
        ]

    @pytest.mark.parametrize("wanted", ["950", "brindle", "THORSBY"])
    def test_it_finds_a_job_by_number_coach_or_owner_collected_ones_too(self, client, scene, wanted):
        coach = CoachFactory(
            shop=scene.shop, make="Brindlewick", owner=OwnerFactory(shop=scene.shop, name="A. Thorsby")
        )
        gone = JobFactory(
            shop=scene.shop, coach=coach, number=950, arrived_at=NOON - timedelta(days=9), collected_at=NOON
        )

        response = client.get(LIST, {"q": wanted})

        assert [job for job, *_ in response.context["lines"]] == [gone]
        assert f'value="{wanted}"' in response.content.decode()

    def test_a_number_no_column_can_hold_finds_nothing(self, client, scene):
        assert client.get(LIST, {"q": "9" * 40}).context["lines"] == []

    def test_another_shops_jobs_are_not_found(self, client, scene):
        client.force_login(PersonFactory(manager=True))

        assert client.get(LIST, {"q": str(scene.job.number)}).context["lines"] == []

    def test_technicians_strangers_and_posts_are_refused(self, client, scene):
        assert client.post(LIST).status_code == 405
        client.force_login(scene.technician)
        assert client.get(LIST).status_code == 403
        client.logout()
        assert client.get(LIST).status_code == 302

    @pytest.mark.parametrize("more", [2, 12])
    def test_the_number_of_queries_does_not_grow_with_the_jobs(
        self, client, scene, more, django_assert_max_num_queries
    ):
        for number in range(more):
            JobFactory(shop=scene.shop, number=500 + number)

        with django_assert_max_num_queries(14):
            client.get(LIST)


class TestPage:
    def test_it_shows_where_the_job_stands(self, client, scene):
        page = client.get(page_of(scene.job)).content.decode()

        assert str(scene.coach) in page
        assert scene.bay.name in page
        assert scene.owner.email in page
        assert "Revision 1" in page
        assert "booking confirmed" in page

    def test_it_says_that_the_journal_is_whole(self, client, scene):
        page = client.get(page_of(scene.job)).content.decode()

        assert f"The journal is whole: {scene.job.entries.count()} entries." in page

    def test_it_says_where_the_journal_was_changed(self, client, scene):
        tampered = scene.job.entries.get(number=2)
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                cursor.execute("SELECT name FROM sqlite_master WHERE type='trigger' AND tbl_name='jobs_journalentry'")
                for (name,) in cursor.fetchall():
                    cursor.execute(f'DROP TRIGGER "{name}"')
            else:
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")  # no foreign key check may be pending
                cursor.execute("ALTER TABLE jobs_journalentry DISABLE TRIGGER USER")
        JournalEntry.objects.filter(pk=tampered.pk).update(actor="Somebody else")

        page = client.get(page_of(scene.job)).content.decode()

        assert "does not fit together at entry 2" in page

    def test_the_journal_is_paged_newest_first(self, client, scene):
        for _ in range(60):
            record(scene.job, kinds.PHOTOS_ADDED, now=NOON, data={"photos_sha256": [], "finding": 0})

        first = client.get(page_of(scene.job)).context["entries"]
        second = client.get(page_of(scene.job), {"page": "2"}).context["entries"]

        numbers = [entry.number for entry, _, _ in [*first, *second]]
        assert len(first) == 50
        assert numbers[: len(first) + 1] == sorted(numbers, reverse=True)[: len(first) + 1]

    def test_every_kind_of_entry_has_words_a_person_can_read(self, client, asked):
        entries = client.get(page_of(asked.finding.job)).context["entries"]

        assert len({entry.kind for entry, _, _ in entries}) >= 10
        assert all(words and "{" not in particulars for _, words, particulars in entries)

    def test_it_moves_the_coach_and_comes_back(self, client, scene):
        response = client.post(reverse("jobs:leave-bay", args=[scene.job.pk]), {"next": page_of(scene.job)})

        scene.job.refresh_from_db()
        assert response["Location"] == page_of(scene.job)
        assert not scene.job.is_in_bay

    def test_only_managers_of_that_shop_see_it(self, client, scene):
        assert_guarded(client, page_of(scene.job), scene, method="get")

    @pytest.mark.parametrize("findings", [1, 5])
    def test_the_number_of_queries_does_not_grow_with_the_findings(
        self, client, scene, findings, django_assert_max_num_queries
    ):
        for number in range(findings):
            find_rot(scene, photos=number)

        with django_assert_max_num_queries(43):
            client.get(page_of(scene.job))


class TestPromise:
    def promise(self, client, job, **fields):
        return client.post(reverse("shopfloor:date-promise", args=[job.pk]), fields)

    def test_the_form_proposes_the_expected_date(self, client, scene):
        form = client.get(page_of(scene.job)).context["promise_form"]

        assert form.initial["ready_on"] == scene.job.forecast.expected_on

    def test_a_new_date_is_kept_with_its_reason_and_the_plan_behind_it(self, client, scene):
        response = self.promise(client, scene.job, ready_on="2026-04-01", reason="The header is rotten.")

        promise = Promise.objects.filter(job=scene.job).last()
        assert response["Location"] == page_of(scene.job)
        assert (str(promise.ready_on), promise.reason) == ("2026-04-01", "The header is rotten.")
        assert promise.expected_on == scene.job.forecast.expected_on
        assert promise.promised_by == scene.manager

    def test_a_first_promise_needs_no_reason(self, client, scene):
        job = JobFactory(shop=scene.shop)

        assert self.promise(client, job, ready_on="2026-04-01").status_code == 302
        assert str(job.promise.ready_on) == "2026-04-01"

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"ready_on": "2026-04-01", "reason": ""}, "Tell the owner why the date changes."),
            ({"ready_on": "2026-03-03", "reason": "Header."}, "That day has passed."),
            ({"ready_on": "2026-04-05", "reason": "Header."}, "The shop is closed on Sunday, April 5."),
            ({"ready_on": "soon", "reason": "Header."}, "Enter a valid date."),
        ],
    )
    def test_a_refused_promise_keeps_what_was_typed_and_stores_nothing(self, client, scene, fields, words):
        before = Promise.objects.count()

        response = self.promise(client, scene.job, **fields)

        page = response.content.decode()
        assert response.status_code == 422
        assert words in page
        assert fields["reason"] in page
        assert f'value="{fields["ready_on"]}"' in page
        assert Promise.objects.count() == before

    def test_a_coach_is_promised_no_day_before_it_arrives(self, client, scene):
        job = JobFactory(shop=scene.shop, arrives_on="2026-03-30", arrived_at=None)

        response = self.promise(client, job, ready_on="2026-03-26")

        assert response.status_code == 422
        assert "This lies before the coach arrives." in response.text
        assert job.promise is None

    def test_the_form_proposes_the_day_that_is_said_to_be_the_one_to_promise(self, client, scene):
        work_out_odds(scene.shop, now=NOON, samples=20)
        JobForecast.objects.update(even_on="2026-03-18", safe_on="2026-03-20")

        page = client.get(page_of(scene.job))

        assert str(page.context["promise_form"].initial["ready_on"]) == "2026-03-20"
        assert "Fri, Mar 20. The date to promise:" in page.text

    def test_where_the_shop_is_closed_on_that_day_the_next_open_one_is_said_and_proposed(self, client, scene):
        work_out_odds(scene.shop, now=NOON, samples=20)
        JobForecast.objects.update(even_on="2026-03-18", safe_on="2026-03-21")

        page = client.get(page_of(scene.job))

        assert str(page.context["promise_form"].initial["ready_on"]) == "2026-03-23"
        assert "Sat, Mar 21. The date to promise is Mon, Mar 23, the next day the shop is open" in page.text

    def test_only_managers_of_that_shop_may(self, client, scene):
        assert_guarded(client, reverse("shopfloor:date-promise", args=[scene.job.pk]), scene)

        assert scene.job.promises.count() == 1


class TestSpokenAnswer:
    def test_the_number_called_is_not_called_optional(self, client, asked):
        page = " ".join(client.get(page_of(asked.finding.job)).text.split())

        assert 'Number called <span class="field-optional">(for an answer by phone)</span>' in page

    def answer(self, client, asked, **changes):
        owner = asked.finding.job.deciders().get()
        given = {
            "answer": str(asked.remedy_id),
            "owner": owner.pk,
            "typed_name": "Delia M.",
            "channel": "phone",
            "phone": "+1 555 0177",
            "seen_sha256": asked.offer_sha256,
        }
        fields = {f"answer{asked.pk}-{name}": value for name, value in (given | changes).items()}
        return client.post(reverse("shopfloor:decision-record", args=[asked.pk]), fields)

    def test_nothing_is_chosen_beforehand(self, client, asked):
        page = client.get(page_of(asked.finding.job)).content.decode()

        form = page[page.index("Keep this answer") - 6000 : page.index("Keep this answer")]
        assert "checked" not in form
        assert asked.offer_sha256 in form

    @pytest.mark.parametrize("is_approved", [True, False])
    def test_it_is_kept_with_who_took_it_and_how(self, client, scene, asked, is_approved):
        response = self.answer(client, asked, **{} if is_approved else {"answer": "no"})

        decision = Decision.objects.get(request=asked)
        entry = scene.job.entries.get(kind="owner_decided")
        assert response["Location"] == page_of(scene.job)
        assert (decision.is_approved, decision.typed_name, decision.channel) == (is_approved, "Delia M.", "phone")
        assert entry.person == scene.manager

    @pytest.mark.parametrize(
        "changes",
        [{"answer": ""}, {"phone": ""}, {"typed_name": ""}, {"channel": "link"}, {"owner": ""}, {"owner": "999999"}],
    )
    def test_an_incomplete_one_is_refused_and_keeps_what_was_typed(self, client, asked, changes):
        response = self.answer(client, asked, **{"typed_name": "Delia M."} | changes)

        assert response.status_code == 422
        assert ("Delia M." in response.content.decode()) == ("typed_name" not in changes)
        assert not Decision.objects.exists()

    def test_an_answer_to_an_offer_that_changed_is_refused_with_409(self, client, asked):
        response = self.answer(client, asked, seen_sha256="0" * 64)

        assert response.status_code == 409
        assert "changed after you opened it" in response.content.decode()
        assert not Decision.objects.exists()

    def test_a_second_answer_is_refused_with_409(self, client, asked):
        self.answer(client, asked)

        assert self.answer(client, asked, answer="no").status_code == 409
        assert Decision.objects.get().is_approved

    def test_only_managers_of_that_shop_may(self, client, scene, asked):
        assert_guarded(client, reverse("shopfloor:decision-record", args=[asked.pk]), scene)

        assert not Decision.objects.exists()


class TestLinks:
    def test_all_links_of_an_owner_are_closed_at_once(self, client, scene):
        make_link(job=scene.job, owner=scene.owner, now=NOON)
        make_link(job=scene.job, owner=scene.owner, now=NOON)

        response = client.post(links_url(scene.job, scene.owner))

        assert response["Location"] == page_of(scene.job)
        assert not OwnerLink.objects.filter(withdrawn_at__isnull=True).exists()
        assert scene.job.entries.filter(kind="links_withdrawn", person=scene.manager).count() == 1

    def test_the_links_of_somebody_who_does_not_own_the_coach_are_not_found(self, client, scene):
        stranger = OwnerFactory(shop=scene.shop)

        assert client.post(links_url(scene.job, stranger)).status_code == 404

    def test_only_managers_of_that_shop_may(self, client, scene):
        make_link(job=scene.job, owner=scene.owner, now=NOON)

        assert_guarded(client, links_url(scene.job, scene.owner), scene)

        assert OwnerLink.objects.filter(withdrawn_at__isnull=True).exists()


def links_url(job, owner):
    return reverse("shopfloor:links-withdraw", args=[job.pk, owner.pk])
