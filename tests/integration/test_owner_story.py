"""What an owner's page tells of a coach that is late, of one that is done, and of one that has gone home."""

from copy import copy
from datetime import date, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from estimates.models import DateChange, JobForecast
from estimates.papers.warranty import read_warranty
from jobs.body_plan import place_words
from jobs.journal import record
from jobs.models import Decision, HoldPoint, Promise, Remedy
from jobs.models.work import Phase
from jobs.services.booking import collect_coach, promise_date
from shopfloor.board import read_board
from shopfloor.demo.telling import drain
from tests.factories import NOON, JobFactory
from tests.paper_scenes import answer, finish_work, told_job
from tests.scenes import opened_coach
from updates.delay import delay_facts
from updates.links import make_link

pytestmark = pytest.mark.django_db

DONE = NOON + timedelta(days=4)


def page_of(scene):
    browser = Client()
    browser.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=NOON).split("/o/")[1])
    text = browser.get(reverse("updates:job-story", args=[scene.job.public_id])).text
    return " ".join(text.split())


def stored_moves(scene):
    """The coach is pushed 4 days past its date by damage, its turn and another coach."""
    promise = scene.job.promise
    other = JobFactory(shop=scene.shop, number=102, complaint="Secret of Bartholomew Quince")
    other.coach.owners.update(name="Bartholomew Quince")
    found = scene.job.findings.first()
    expected_on = JobForecast.objects.get(job=scene.job).expected_on
    asked = record(scene.job, "owner_asked", now=NOON, data={"finding": found.pk, "request": 0})
    turned = record(scene.job, "turn_changed", now=NOON, data={"priority": 6, "before": 5})
    theirs = record(other, "operation_finished", now=NOON, data={"operation": 0, "words": "Bond the skin"})
    days = (promise.ready_on - expected_on).days
    moves = [
        (days + 2, asked, "finding", "Finding 1, failed seal"),
        (1, turned, "work", "Given turn 6 among the coaches"),
        (3, theirs, "other_coach", f"Job {other.number}: Bond the skin"),
        (-2, None, "drying", "Wait for the seal"),
    ]
    at, changed_at = expected_on, NOON + timedelta(minutes=1)
    for moved, entry, cause, words in moves:
        DateChange.objects.create(
            job=scene.job,
            entry=entry,
            from_on=at,
            to_on=at + timedelta(days=moved),
            cause=cause,
            words=words,
            changed_at=changed_at,
        )
        at += timedelta(days=moved)
    JobForecast.objects.filter(job=scene.job).update(expected_on=at)
    return at


@pytest.fixture(scope="module")
def kept_late(keeper):
    def build():
        scene = opened_coach(NOON)
        stored_moves(scene)
        return scene

    with time_machine.travel(NOON, tick=False):
        return keeper(build)


@pytest.fixture
def late(kept_late):
    with time_machine.travel(NOON + timedelta(hours=1), tick=False):
        yield kept_late()


class TestLateCoach:
    def test_the_causes_add_up_to_the_days_past_the_promise(self, late):
        expected_on = JobForecast.objects.get(job=late.job).expected_on

        facts = delay_facts(late.job, expected_on, today=date(2026, 3, 4))

        assert (expected_on - late.job.promise.ready_on).days == 4
        # What was left as room when the date was given is a cause as well.
        assert [(each.cause, each.days) for each in facts.causes] == [
            ("promise", -2),
            ("finding", 4),
            ("turn", 1),
            ("other_coach", 3),
            ("drying", -2),
        ]

    def test_the_page_gives_each_cause_with_its_days_and_names_nobody_else(self, late):
        page = page_of(late)

        assert "Why it takes longer" in page
        assert "We found more damage. This is about: failed sealing (" in page
        assert "We had to change the order of the work in our shop." in page
        assert "Work on other coaches here takes longer, and yours has to wait for it." in page
        assert "dries faster than we thought" in page
        assert "4 days later" in page
        assert "It is not a new promise" in page
        for other in ("Quince", "Bond the skin", "Job 102", "turn 6"):
            assert other not in page

    def test_a_new_promise_takes_its_place_and_both_dates_stand_with_the_reason(self, late):
        new_on = JobForecast.objects.get(job=late.job).expected_on

        promise_date(
            job=late.job,
            ready_on=new_on,
            expected_on=new_on,
            reason="The edge was worse than we thought.",
            by=late.manager,
            now=NOON + timedelta(minutes=30),
        )

        page = page_of(late)
        assert "Why it takes longer" not in page
        assert "ready in time for that date" in page
        told = page.partition("The dates we gave you")[2]
        assert f"we changed it to {new_on:%A, %B} {new_on.day}, {new_on.year}" in told
        assert "This is why: The edge was worse than we thought." in told

    def test_in_time_it_shows_no_date_but_the_promised_one(self, late):
        JobForecast.objects.filter(job=late.job).update(
            expected_on=late.job.promise.ready_on - timedelta(days=1), even_on=None, safe_on=None
        )

        facts = page_of(late).partition("</dl>")[0]

        assert facts.count("2026</dd>") == 1
        assert "ready in time for that date" in facts

    def test_once_the_date_has_passed_it_says_so(self, late):
        facts = delay_facts(
            late.job, JobForecast.objects.get(job=late.job).expected_on, today=late.job.promise.ready_on
        )
        assert not facts.is_past

        with time_machine.travel(NOON + timedelta(days=30), tick=False):
            assert "That date has passed, and we are sorry." in page_of(late)


@pytest.fixture(scope="module")
def kept_done(keeper):
    def build():
        scene = told_job(NOON)
        answer(scene, NOON + timedelta(hours=28), channel=Decision.Channel.LINK)
        finish_work(scene, DONE, fail_first=True)
        return scene

    with time_machine.travel(NOON, tick=False):
        return keeper(build)


@pytest.fixture
def done(kept_done):
    with time_machine.travel(DONE, tick=False):
        yield kept_done()


class TestFinishedCoach:
    def test_it_says_what_was_done_what_was_done_again_and_why(self, done):
        page = page_of(done)

        assert "Ready to collect since</dt><dd>Sun, Mar 8, 2026" in page
        work = page.partition("What we did")[2].partition("The story so far")[0]
        booked, _, found = work.partition("What we found, and you said yes to")
        assert "What you brought it in for" in booked
        agreed = Remedy.objects.filter(finding__job=done.job, operations__isnull=False).distinct()
        assert len(agreed) == 4
        for remedy in agreed.select_related("finding"):
            assert remedy.words in (booked if remedy.finding.is_booked else found)
        assert "and were not happy with it, so we did it again. What was wrong: Glue line is open." in work
        assert "You pay nothing for that." in work
        assert "$" not in work
        assert "1.5" not in work, "the hours of doing it again are the shop's"

    def test_the_managers_pages_have_the_day_of_the_last_sign_off_and_the_days_up_to_it(self, done, client):
        signed_at = DONE + timedelta(days=3)
        last = HoldPoint.objects.filter(operation__job=done.job, passed_at__isnull=False).last()
        HoldPoint.objects.filter(pk=last.pk).update(passed_at=signed_at)
        promised_on = date(2026, 3, 8)
        Promise.objects.filter(job=done.job).delete()
        Promise.objects.create(
            job=done.job, ready_on=promised_on, reason="Given", promised_by=done.manager, promised_at=NOON
        )
        JobForecast.objects.filter(job=done.job).update(
            expected_on=promised_on, even_on=promised_on, safe_on=promised_on
        )
        client.force_login(done.manager)

        with time_machine.travel(signed_at, tick=False):
            page = " ".join(client.get(reverse("shopfloor:job-detail", args=[done.job.pk])).text.split())
            listed = " ".join(client.get(reverse("shopfloor:job-list")).text.split())
            (line,) = read_board(done.shop, signed_at).jobs
            board = " ".join(client.get(reverse("shopfloor:board")).text.split())
            owners = page_of(done)

        assert "Ready to collect since</dt><dd>Wed, Mar 11, 2026" in owners
        assert "Ready since</dt><dd>Wed, Mar 11 (+3 days against the promise)" in page
        assert "Expected by plan" not in page
        assert "four times in five" not in page
        assert "The date to promise" not in page
        assert "ready since Wed, Mar 11" in listed
        assert (line.expected_on, line.days, line.even_on, line.safe_on) == (date(2026, 3, 11), 3, None, None)
        assert sum(step.days for step in line.steps) == 3
        assert "Promised Sun, Mar 8, ready since Wed, Mar 11." in board

    def test_the_check_of_the_whole_coach_has_no_place(self, done):
        remedy = Remedy.objects.filter(finding__job=done.job, finding__is_booked=True, operations__isnull=False).first()
        place = place_words(remedy.finding).capitalize()
        before = page_of(done)
        remedy.operations.update(phase=Phase.FINAL_CHECK)

        page = page_of(done)

        assert before.count(f"<li>{place}: {remedy.words}</li>") == 1
        assert f"<li>{remedy.words}</li>" in page
        assert f"<p>{remedy.words}" in page, "among the work done"
        assert f"{place}: {remedy.words}" not in page
        covered = read_warranty(done.job, now=DONE)["done"]
        assert [each.place for each in covered if each.finding_number == remedy.finding.number] == [""]

    def test_a_wait_done_again_is_told_by_the_labour_before_it(self, done):
        redo = done.job.operations.get(redo_of__isnull=False)
        done.job.operations.filter(pk__in=[redo.pk, redo.redo_of_id]).update(
            kind="wait", skill=None, words="Adhesive cures", position=40
        )
        labour = redo.remedy.operations.filter(kind="labour").order_by("phase", "position").last()

        page = page_of(done)

        assert f"We checked “{labour.words}” and were not happy with it, so we did it again." in page
        assert "Adhesive cures" not in page

    def test_more_work_takes_no_more_queries(self, done, django_assert_max_num_queries):
        page_of(done)  # the shop and the session are known from here on
        with CaptureQueriesContext(connection) as before:
            page_of(done)
        operation = done.job.operations.filter(hold_point__isnull=False).last()
        for number in range(12):
            other = copy(operation)
            other.pk, other.position = None, 40 + number
            other.save(force_insert=True)
            HoldPoint.objects.create(
                operation=other, words="Looked at", passed_at=DONE, checked_by=done.manager, note="Good"
            )

        with django_assert_max_num_queries(len(before)):
            page_of(done)

    def test_nothing_is_expected_any_more(self, done):
        page = page_of(done)

        assert "By our plan" not in page
        assert "Wise to count on" not in page

    def test_gone_home_it_keeps_when_it_was_finished_and_collected_warranty_and_papers(self, done):
        collect_coach(job_id=done.job.pk, by=done.manager, now=DONE + timedelta(days=2))
        drain(DONE + timedelta(days=2))

        page = page_of(done)

        assert "Your coach has gone home." in page
        assert "Work finished</dt><dd>Sun, Mar 8, 2026" in page
        assert "Gone home</dt><dd>Tue, Mar 10, 2026" in page
        assert "What we did" in page
        assert reverse("updates:paper", args=[done.job.public_id, "warranty"]) in page
        assert "Final account" in page

    def test_work_still_going_on_says_so(self, late):
        operation = late.job.operations.order_by("phase", "pk").first()
        type(operation).objects.filter(pk=operation.pk).update(started_at=NOON, finished_at=NOON)

        page = page_of(late)

        assert "What we have done so far" in page
        assert "Ready to collect" not in page
