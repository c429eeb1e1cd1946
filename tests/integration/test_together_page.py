"""All answers of a job together on the manager's page, and totals that a reader can add up."""

from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from estimates.billing import read_bill
from estimates.inputs import read_shop
from estimates.models import JobAnswers, Offer, Revision
from estimates.papers.change import read_change
from estimates.together import read_together
from jobs.calc.faces import Face, Place
from jobs.models import ApprovalRequest
from jobs.services.remedies import OwnRemedy
from jobs.services.verdicts import Evidence
from shopfloor.demo.telling import drain
from shopfloor.job_sheet import read_job_sheet
from tests.factories import NOON
from tests.scenes import answer_by_link, book_behind, find_rot, opened_coach
from updates.links import make_link

pytestmark = pytest.mark.django_db


def asked_twice():
    """A coach with two open questions, one of which holds up the coach behind it for days."""
    scene = opened_coach(NOON)
    behind = book_behind(scene)
    drain(NOON)
    find_rot(scene, remedy=OwnRemedy("Dry it out slowly", 2.0, scene.shop.skills.first(), wait_hours=168.0))
    find_rot(
        scene,
        kind="exposed_wire",
        place=Place(Face.FRONT, 300, 200, 600, 300),
        seen="Bare over an edge.",
        evidence=Evidence(is_wet=False),
        remedy=scene.shop.standard_remedies.get(name="Protect wires"),
    )
    drain(NOON)
    return scene, behind


@pytest.fixture(scope="module")
def kept(keeper):
    with time_machine.travel(NOON, tick=False):
        return keeper(asked_twice)


@pytest.fixture
def scene(kept, client):
    with time_machine.travel(NOON, tick=False):
        scene, behind = kept()
        scene.behind = behind
        client.force_login(scene.manager)
        yield scene


CENT_LESS = "Tax is rounded once on the whole bill. So this is 1 cent less than the prices add up to."


@pytest.fixture
def owner(scene):
    browser = Client()
    browser.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=NOON).split("/o/")[1])
    return browser


def job_page(client, scene):
    return client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).text


def story(owner, scene, **tried):
    return owner.get(reverse("updates:job-story", args=[scene.job.public_id]), tried).text


def questions():
    return ApprovalRequest.objects.open().order_by("pk")


def dearer_wires():
    """The question about the wires and its second remedy, whose tax is rounded the other way by itself."""
    asked = questions()[1]
    return asked, asked.choices.get(standard__name="Renew a damaged wire run")


class TestAllWays:
    def test_each_way_is_the_plan_with_these_answers_for_every_coach(self, scene):
        snapshot = read_shop(scene.shop, NOON)
        first, second = questions()
        left_on = snapshot.ready_on({first.finding_id: None, second.finding_id: None})

        for way in JobAnswers.objects.get().ways:
            ready_on = snapshot.ready_on({int(finding): remedy for finding, remedy in way["picks"].items()})
            assert date.fromisoformat(way["ready_on"]) == ready_on[scene.job.pk]
            days = (ready_on[scene.behind.pk] - left_on[scene.behind.pk]).days
            assert way["others"] == ([[scene.behind.pk, days]] if days else [])

    def test_the_manager_reads_every_way_with_the_coaches_it_moves_by_name(self, client, scene):
        together = read_job_sheet(scene.job.pk, NOON).together

        page = job_page(client, scene)

        assert len(together.rows) == len(JobAnswers.objects.get().ways) == 12
        assert "All 12 ways to answer these 2 questions together" in page
        days = max(each.days for way in together.rows for each in way.others)
        assert days >= 7, "a week's waiting"
        assert f"{scene.behind.number} {scene.behind.coach} (+{days} days)" in page
        assert f"yes, {dearer_wires()[1].name}" in page
        for way in together.rows:
            assert f"${way.total_usd:,.2f}" in page

    def test_date_and_total_are_those_of_the_owners_page(self, owner, scene):
        asked, remedy = dearer_wires()
        other = questions()[0]
        picks = {other.finding_id: other.remedy_id, asked.finding_id: remedy.pk}
        way = read_job_sheet(scene.job.pk, NOON).together.way(picks)

        page = story(owner, scene, **{f"try-{finding}": str(pk) for finding, pk in picks.items()})

        assert f"{way.ready_on:%A, %B} {way.ready_on.day}" in page
        assert f"${way.total_usd:,.2f}" in page
        assert "Brindlewick" not in page

    def test_more_ways_ask_no_more_queries(self, scene):
        sheet = read_job_sheet(scene.job.pk, NOON)

        with CaptureQueriesContext(connection) as asked:
            assert len(read_together(scene.job, sheet.together.questions, is_for_owner=False).rows) == 12

        assert len(asked) <= 6

    def test_for_one_question_alone_there_is_no_table(self, client, scene):
        answer_by_link(scene, *dearer_wires(), now=NOON)

        assert "questions together" not in job_page(client, scene)


class TestSums:
    def test_a_cent_between_prices_and_total_is_said_right_there_and_only_then(self, client, owner, scene):
        bill, odd = read_bill(scene.job), 0
        for way in JobAnswers.objects.get().ways:
            picks = {int(finding): remedy for finding, remedy in way["picks"].items()}
            offers = {pk: Offer.objects.get(finding=pk, sha256__in=questions().values("offer_sha256")) for pk in picks}
            prices = [
                Decimal(offers[pk].choice(remedy)["totals"]["total_usd"]) for pk, remedy in picks.items() if remedy
            ]
            told = read_job_sheet(scene.job.pk, NOON).together.way(picks)
            adds_up = told.total_usd == bill.agreed_usd + sum(prices)
            assert bool(told.apart) != adds_up
            tried = {f"try-{finding}": str(remedy or "decline") for finding, remedy in picks.items()}
            assert (told.apart in story(owner, scene, **tried)) if told.apart else True
            odd += not adds_up

        assert odd
        assert CENT_LESS in job_page(client, scene)

    def test_after_a_yes_mail_owner_page_and_job_page_say_it(self, client, owner, scene):
        asked, remedy = dearer_wires()
        first = Revision.objects.get(job=scene.job)
        price = Offer.objects.get(sha256=asked.offer_sha256).choice(remedy.pk)["totals"]["total_usd"]
        other = questions()[0]
        mail.outbox.clear()

        answer_by_link(scene, asked, remedy, now=NOON)
        answer_by_link(scene, other, None, now=NOON)

        last = Revision.objects.filter(job=scene.job).order_by("number").last()
        assert last.total_usd == first.total_usd + Decimal(price) - Decimal("0.01")
        assert [CENT_LESS in letter.body.replace("\n", " ") for letter in mail.outbox] == [True, False]
        assert CENT_LESS in job_page(client, scene)
        assert CENT_LESS in story(owner, scene)

    def test_the_paper_to_be_signed_says_it_too(self, scene):
        asked, remedy = dearer_wires()

        paper = read_change(scene.job, asked.pk, now=NOON)

        apart = {choice.offered.remedy_id: choice.apart for choice in paper["choices"]}
        assert apart.pop(remedy.pk) == CENT_LESS
        assert set(apart.values()) == {""}

    def test_nothing_is_said_where_the_sum_adds_up(self, client, owner, scene):
        answer_by_link(scene, questions()[1], questions()[1].remedy, now=NOON)
        answer_by_link(scene, questions()[0], None, now=NOON)

        assert "Tax is rounded once" not in job_page(client, scene)
        assert "Tax is rounded once" not in story(owner, scene)
