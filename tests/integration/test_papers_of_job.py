"""Estimate, change approval, account and warranty: what they say, to whom, and that it is what was kept."""

import logging
import uuid
from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest
from django.urls import reverse
from django.utils import timezone

from estimates import kinds
from estimates.billing import total_with
from estimates.models import Offer, OptionDate
from estimates.papers import PAPERS, render_change
from estimates.papers.account import render_account
from estimates.papers.estimate import render_estimate
from estimates.papers.warranty import render_warranty
from estimates.papers.work_sheet import render_work_sheet
from estimates.services.payments import NewPayment, take_payment, take_payment_back
from estimates.services.terms import NewTerm, agree_term
from estimates.sheet import read_sheet
from jobs.journal import record
from jobs.models import ApprovalRequest, Decision, WorkSpan
from jobs.photos import SMALL_PX
from jobs.services.approvals import withdraw_request
from shopfloor.templatetags.shop import money, shop_date
from tests.factories import NOON, JobFactory, PersonFactory
from tests.paper_scenes import answer, bookmarks_of, finish_work, opened, told_job, words_of
from tests.scenes import opened_coach
from updates.links import make_link

pytestmark = pytest.mark.django_db

LATER = NOON + timedelta(hours=28)
DONE = NOON + timedelta(days=4)
TITLES = {
    "estimate": "Estimate",
    "work-sheet": "Work sheet",
    "condition-report": "Condition report",
    "account": "Account so far",
    "warranty": "Warranty statement",
}
FOR_TECHNICIANS = {"work-sheet", "condition-report"}
FOR_OWNERS = {"estimate", "account", "warranty"}


@pytest.fixture(scope="module")
def kept_job(keeper):
    return keeper(told_job, NOON)


@pytest.fixture
def scene(kept_job):
    return kept_job()


@pytest.fixture
def done_scene(scene):
    """Finding 5 agreed by the link, all work finished, one hold point failed on the way."""
    answer(scene, LATER, channel=Decision.Channel.LINK)
    finish_work(scene, DONE, fail_first=True)
    return scene


def question(scene, number):
    return ApprovalRequest.objects.get(finding__job=scene.job, finding__number=number)


def change_words(scene, number, *, now=LATER):
    return words_of(render_change(scene.job, question(scene, number).pk, now=now))


def settled_totals(job):
    return [Decimal(entry.data["total_usd"]) for entry in job.entries.filter(kind=kinds.SCOPE_SETTLED)]


@pytest.mark.one_database  # how a paper is set; what it says of a job is below
class TestEveryPaper:
    def test_the_titles_name_all_of_them(self):
        assert set(TITLES) == set(PAPERS)

    @pytest.mark.parametrize("paper", PAPERS)
    def test_it_is_tagged_titled_numbered_and_bookmarked_and_misses_no_picture(self, paper, scene, caplog):
        with caplog.at_level(logging.WARNING, logger="weasyprint"):
            pdf = PAPERS[paper].render(scene.job, now=LATER)

        reader = opened(pdf)
        root = reader.trailer["/Root"]
        assert root["/MarkInfo"]["/Marked"]
        assert root["/StructTreeRoot"]["/K"]
        assert root["/Lang"] == "en"
        assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()
        assert reader.metadata.title == f"{TITLES[paper]}, job {scene.job.number}"
        assert reader.metadata.author == scene.shop.name
        assert bookmarks_of(pdf)[0].startswith(TITLES[paper])
        assert len(bookmarks_of(pdf)) >= 3
        for number, page in enumerate(reader.pages, start=1):
            text = " ".join(page.extract_text().split())
            assert f"Page {number} of {len(reader.pages)}" in text
            assert f"{TITLES[paper]}, job {scene.job.number}" in text
            assert len(text) > 120, f"page {number} is all but empty"
        assert [each.getMessage() for each in caplog.records if "image" in each.getMessage().lower()] == []

    @pytest.mark.parametrize("paper", PAPERS)
    def test_of_a_job_with_nothing_yet_it_says_so(self, paper):
        job = JobFactory()

        pdf = PAPERS[paper].render(job, now=NOON)

        said = {
            "estimate": "Nothing is agreed yet.",
            "work-sheet": "Nothing is agreed yet. Do no work before it is.",
            "condition-report": "Nothing has been found yet.",
            "account": "Nothing is agreed, so nothing is owed.",
            "warranty": "nothing is covered yet",
        }
        assert said[paper] in words_of(pdf)
        assert "None" not in words_of(pdf)

    @pytest.mark.parametrize("paper", PAPERS)
    def test_hostile_names_stay_words(self, paper):
        nasty = '<img src="file:///etc/hostname">&amp;<b>'
        job = JobFactory(complaint=nasty, coach__make='</h1><i>"{{x}}')
        job.shop.name = "<script>alert(1)</script> & Sons"
        job.coach.owners.update(name="O’Hara <style>*{display:none}</style>")

        # Long words break over lines, so without spaces.
        words = words_of(PAPERS[paper].render(job, now=NOON)).replace(" ", "")

        assert nasty.replace(" ", "") in words
        assert '</h1><i>"{{x}}' in words
        assert "<script>alert(1)</script>&Sons" in words
        if paper != "work-sheet":
            assert "O’Hara<style>*{display:none}</style>" in words

    @pytest.mark.parametrize(("units", "size_pt"), [("us", (612, 792)), ("metric", (595, 842))])
    def test_the_sheet_is_that_of_the_shops_country(self, units, size_pt):
        job = JobFactory(shop__units=units)

        box = opened(render_estimate(job, now=NOON)).pages[0].mediabox

        assert (round(box.width), round(box.height)) == size_pt


class TestEstimate:
    def test_the_estimate_has_the_dates_of_todays_plan_and_what_was_told_when_asked_where_it_differs(self, scene):
        asked = question(scene, 5)
        offer = Offer.objects.get(sha256=asked.offer_sha256)
        moved = OptionDate.objects.filter(request=asked, remedy=asked.remedy, job=scene.job)
        today_on = offer.ready_without_on + timedelta(days=9)
        assert moved.update(ready_on=today_on) == 1
        left_on = OptionDate.objects.get(request=asked, remedy=None, job=scene.job).ready_on

        words = words_of(render_estimate(scene.job, now=LATER))

        assert "ready, by the plan of today" in words.lower()
        told = f"({shop_date(offer.ready_with_on)} when we asked)"
        assert f"{shop_date(today_on)}, +{(today_on - left_on).days} days {told}" in words

    def test_until_todays_plan_knows_the_answers_the_dates_are_called_as_told(self, scene):
        OptionDate.objects.all().delete()
        offer = Offer.objects.get(sha256=question(scene, 5).offer_sha256)

        words = words_of(render_estimate(scene.job, now=LATER))

        assert "ready, as told when asked" in words.lower()
        assert "by the plan of today" not in words.lower()
        assert f"{shop_date(offer.ready_with_on)}, " in words

    def test_the_change_approval_keeps_the_dates_that_were_told(self, scene):
        asked = question(scene, 5)
        OptionDate.objects.filter(request=asked).update(ready_on=NOON.date() + timedelta(days=60))
        offer = Offer.objects.get(sha256=asked.offer_sha256)

        words = change_words(scene, 5)

        assert "ready, as told when asked" in words.lower()
        assert f"{shop_date(offer.ready_with_on)}, " in words
        assert shop_date(NOON.date() + timedelta(days=60)) not in words

    def test_it_prints_every_kept_line_its_total_and_what_is_open(self, scene):
        words = words_of(render_estimate(scene.job, now=LATER))

        revision = scene.job.revisions.last()
        lines = [line for group in read_sheet(revision).groups for line in group.lines]
        assert len(lines) > 5
        for line in lines:
            assert line.words in words
            assert money(line.amount_usd) in words
        assert money(revision.total_usd) in words
        agreed, _, still_open = words.partition("Not agreed yet")
        booked, _, found = agreed.partition("What we found, and you said yes to")
        assert "What you brought it in for Booked work 1, " in booked
        assert "Finding 3, rotten framing" in found.partition("Labour,")[0]
        assert "Finding" not in booked.partition("What you brought it in for")[2]
        assert "Finding 5: loose decking" in still_open
        assert "Finding 5" not in agreed
        for choice in Offer.objects.get(sha256=question(scene, 5).offer_sha256).offered():
            assert choice.name in still_open
            assert money(choice.total_usd) in still_open
            assert shop_date(choice.ready_with_on) in still_open

    def test_its_figures_are_those_kept_whatever_the_prices_are_now(self, scene):
        before = words_of(render_estimate(scene.job, now=LATER))

        type(scene.shop.rates).objects.update(labour_usd_per_hour="999.00", tax_rate_pct="20")

        assert words_of(render_estimate(scene.job, now=LATER)) == before


class TestChangeApproval:
    def test_a_yes_by_phone_names_who_when_how_what_and_the_total_from_then_on(self, scene):
        words = change_words(scene, 3)

        decision = question(scene, 3).decision
        offer = Offer.objects.get(sha256=decision.offer_sha256)
        assert "Header is soft from end to end." in words
        for choice in offer.offered():
            assert choice.name in words
            assert money(choice.total_usd) in words
        assert f"Yes: {decision.remedy.name}" in words
        assert scene.owner.name in words
        assert f"by phone, {scene.owner.phone}" in words
        assert f"{scene.manager.get_full_name()}, for the shop" in words
        assert "Wed, Mar 4, 2026, 12:00 PM CST" in words
        before, after = settled_totals(scene.job)[:2]
        assert f"BEFORE THIS CHANGE {money(before)} THIS CHANGE {money(after - before)}" in words
        assert f"AFTER THIS CHANGE, IN REVISION 2 {money(after)}" in words
        assert decision.offer_sha256 in words.replace(" ", "")
        assert "Signed in person" not in words

    def test_a_no_in_person_has_its_place_to_sign(self, scene):
        words = change_words(scene, 4)

        assert "No. It is left as it is." in words
        assert f"Signed in person: job {scene.job.number}, finding 4" in words
        assert "I said no" in words
        assert "Name and signature of the owner" in words

    def test_an_open_question_is_printed_to_be_signed_with_all_its_lines(self, scene):
        words = change_words(scene, 5)

        offer = Offer.objects.get(sha256=question(scene, 5).offer_sha256)
        assert f"To be signed: job {scene.job.number}, finding 5" in words
        assert "The answer" not in words
        for choice in offer.choices:
            assert f"Yes: {choice['name']}" in words
            for line in choice["lines"]:
                assert line["words"] in words
        before = settled_totals(scene.job)[-1]
        for choice in offer.offered():
            after = total_with(scene.job, [offer.choice(choice.remedy_id) | {"finding": offer.finding_id}])
            assert f"{choice.name} {money(before)} {money(after - before)} {money(after)}" in words
        assert f"No {money(before)} $0.00 {money(before)}" in words

    def test_the_first_photos_are_printed_as_their_small_renditions(self, scene):
        asked = question(scene, 3)
        shared = {photo.small.name for photo in asked.finding.photos.all()}
        assert len(shared) == 3

        reader = opened(render_change(scene.job, asked.pk, now=LATER))

        images = {image.indirect_reference.idnum: image for page in reader.pages for image in page.images}
        assert len(images) == 3
        assert max(max(each.image.size) for each in images.values()) <= SMALL_PX

    def test_a_photo_that_cannot_be_read_is_said_and_stops_nothing(self, scene):
        photo = question(scene, 3).finding.photos.first()
        photo.small.storage.delete(photo.small.name)

        assert "This photo cannot be read." in change_words(scene, 3)

    def test_an_answer_by_the_link_says_where_it_came_from(self, done_scene):
        words = change_words(done_scene, 5)

        assert f"by the link sent to {done_scene.owner.email}" in words
        assert "for the shop" not in words

    def test_somebody_who_signs_for_the_owner_is_named_beside_them(self, scene):
        answer(scene, LATER, channel=Decision.Channel.IN_PERSON, name="Piet Marchbanks")

        assert f"Piet Marchbanks, for {scene.owner.name}" in change_words(scene, 5)

    def test_a_question_taken_back_has_no_paper(self, client, scene):
        asked = question(scene, 5)
        withdraw_request(request_id=asked.pk, reason="Not needed", by=scene.manager, now=LATER)
        client.force_login(scene.manager)

        assert client.get(reverse("estimates:change-paper", args=[scene.job.pk, asked.pk])).status_code == 404


class TestAccount:
    def test_its_total_is_the_journals(self, done_scene):
        words = words_of(render_account(done_scene.job, now=DONE))

        totals = settled_totals(done_scene.job)
        assert done_scene.job.revisions.last().total_usd == totals[-1]
        assert f"Total {money(totals[-1])}" in words
        for total in totals:
            assert money(total) in words
        assert "names another total" not in words

    def test_it_is_final_once_all_work_is_done(self, done_scene):
        assert opened(render_account(done_scene.job, now=DONE)).metadata.title.startswith("Final account")

    def test_before_that_it_says_how_much_is_not_finished(self, scene):
        words = words_of(render_account(scene.job, now=LATER))

        assert "This is not the final account." in words
        agreed = scene.job.revisions.last().content["groups"]
        assert scene.job.operations.unfinished().count() > len(agreed), "some take several steps"
        assert f"{len(agreed)} pieces of agreed work are not finished." in words
        assert "Finding 5, loose decking" in words.partition("Not answered")[2]

    def test_it_lists_decisions_what_was_declined_and_what_was_redone_at_no_charge(self, done_scene):
        words = words_of(render_account(done_scene.job, now=DONE))

        assert "yes: Cut out and splice framing" in words
        assert "Finding 4, mould, the road side wall" in words.partition("Declined, and left as it is")[2]
        redone = words.partition("Done again at the shop’s cost")[2]
        assert "Splice in new framing, again" in redone
        assert "Glue line is open." in redone
        assert "no charge" in redone

    def test_what_was_redone_says_planned_of_hours_nobody_clocked(self, done_scene):
        done_scene.job.operations.filter(redo_of__isnull=False).update(hours=3.25, crew=2)
        WorkSpan.objects.filter(operation__redo_of__isnull=False).delete()

        words = words_of(render_account(done_scene.job, now=DONE))

        assert "6.5 h planned no charge" in words.partition("Done again at the shop’s cost")[2]

    def test_what_was_redone_counts_the_clocked_hours_of_everybody(self, done_scene):
        redone = done_scene.job.operations.get(redo_of__isnull=False)
        redone.spans.all().delete()
        for person, hours in ((done_scene.manager, 2), (done_scene.technician, 1.75)):
            begun_at = DONE - timedelta(hours=hours)
            WorkSpan.objects.create(operation=redone, person=person, started_at=begun_at, ended_at=DONE)

        words = words_of(render_account(done_scene.job, now=DONE))

        assert "3.75 h no charge" in words.partition("Done again at the shop’s cost")[2]

    def test_discount_and_payments_stand_with_what_is_left_to_pay(self, done_scene):
        agree_term(
            job_id=done_scene.job.pk,
            new=NewTerm("discount", "For the long wait", pct=Decimal(10)),
            by=done_scene.manager,
            now=DONE,
        )
        pay = partial(take_payment, job_id=done_scene.job.pk, by=done_scene.manager, now=DONE)
        pay(new=NewPayment(uuid.uuid4(), "owner", Decimal(500), "card", NOON.date(), "Receipt 7"))
        wrong = pay(new=NewPayment(uuid.uuid4(), "owner", Decimal("20.25"), "cash", DONE.date()))
        take_payment_back(payment_id=wrong.pk, reason="Typed twice", by=done_scene.manager, now=DONE)

        words = words_of(render_account(done_scene.job, now=DONE))

        revision = done_scene.job.revisions.last()
        assert settled_totals(done_scene.job)[-1] == revision.total_usd < settled_totals(done_scene.job)[-2]
        assert f"Total {money(revision.total_usd)}" in words
        assert "Discount of 10 %: For the long wait" in words
        payments = words.partition("Payments")[2]
        assert "Wed, Mar 4, 2026 you card, Receipt 7" in payments
        assert "taken back: Typed twice" in payments
        assert "-$20.25" in payments
        assert f"You {money(revision.total_usd)} $500.00 {money(revision.total_usd - 500)}" in payments
        assert "discount: For the long wait" in words.partition("How the total came about")[2]

    def test_it_warns_when_the_journal_names_another_total(self, done_scene):
        data = done_scene.job.entries.filter(kind=kinds.SCOPE_SETTLED).last().data
        record(done_scene.job, kinds.SCOPE_SETTLED, now=DONE, data=data | {"total_usd": "1.00"})

        words = words_of(render_account(done_scene.job, now=DONE))

        assert "The journal names another total than the last revision." in words


class TestWarranty:
    def test_each_remedy_done_stands_with_its_words_and_day(self, done_scene):
        words = words_of(render_warranty(done_scene.job, now=DONE))

        groups = done_scene.job.revisions.last().content["groups"]
        labels = {finding.pk: finding.label.capitalize() for finding in done_scene.job.findings.all()}
        assert any(group["warranty"] for group in groups)
        for group in groups:
            assert f"{labels[group['finding']]}, {group['words']}" in words
            assert group["warranty"] in words
        assert "Sun, Mar 8, 2026" in words
        assert "Agreed, not finished" not in words

    def test_what_was_declined_is_left_out_with_place_and_day_and_the_law_comes_first(self, done_scene):
        words = words_of(render_warranty(done_scene.job, now=DONE))

        left_out = words.partition("not covered because it was declined")[2]
        assert "4, mould the road side wall, high up, in the middle Wed, Mar 4, 2026" in left_out
        assert "Local consumer law comes before this paper." in words

    def test_work_not_finished_is_not_covered_yet(self, scene):
        words = words_of(render_warranty(scene.job, now=LATER))

        assert "so nothing is covered yet" in words
        assert "Finding 3, rotten framing" in words.partition("Agreed, not finished")[2]


class TestWhoGetsWhat:
    @pytest.mark.parametrize("paper", PAPERS)
    def test_managers_get_all_technicians_those_for_the_bay_others_none(self, paper, client):
        job = JobFactory()
        address = reverse("estimates:paper", args=[job.pk, paper])

        client.force_login(PersonFactory(shop=job.shop, manager=True))
        response = client.get(address)
        assert response.status_code == 200
        assert response["Content-Type"] == "application/pdf"
        assert response["Content-Disposition"] == f'inline; filename="{paper}-{job.number}.pdf"'
        assert client.post(address).status_code == 405
        client.force_login(PersonFactory(shop=job.shop))
        assert client.get(address).status_code == (200 if paper in FOR_TECHNICIANS else 403)
        client.force_login(PersonFactory(manager=True))
        assert client.get(address).status_code == 404
        client.force_login(PersonFactory(shop=None, is_superuser=True))
        assert client.get(address).status_code == 404

    def test_an_unknown_paper_is_not_found(self, client):
        job = JobFactory()
        client.force_login(PersonFactory(shop=job.shop, manager=True))

        assert client.get(reverse("estimates:paper", args=[job.pk, "treasure-map"])).status_code == 404

    def test_a_technician_may_not_have_a_change_approval(self, client, scene):
        client.force_login(scene.technician)

        address = reverse("estimates:change-paper", args=[scene.job.pk, question(scene, 3).pk])
        assert client.get(address).status_code == 403

    def test_the_question_of_another_job_is_not_found_through_ones_own(self, client, scene):
        client.force_login(scene.manager)
        other = JobFactory(shop=scene.shop)

        address = reverse("estimates:change-paper", args=[other.pk, question(scene, 3).pk])
        assert client.get(address).status_code == 404

    @pytest.mark.parametrize("paper", [*PAPERS, "treasure-map"])
    def test_owners_get_theirs_by_their_link(self, paper, client, scene):
        enter(client, scene)

        response = client.get(reverse("updates:paper", args=[scene.job.public_id, paper]))

        assert response.status_code == (200 if paper in FOR_OWNERS else 404)

    def test_owners_get_the_questions_they_answered_and_none_of_another_job(self, client, scene):
        enter(client, scene)
        other = opened_coach(NOON)

        def status(job, number):
            address = reverse("updates:change-paper", args=[job.public_id, question(scene, number).pk])
            return client.get(address).status_code

        assert [status(scene.job, number) for number in (3, 4, 5)] == [200, 200, 404]
        assert status(other.job, 3) == 404
        assert client.get(reverse("updates:paper", args=[other.job.public_id, "estimate"])).status_code == 404

    def test_the_link_of_another_job_opens_no_paper_of_this_one(self, client, scene):
        enter(client, opened_coach(NOON))

        assert client.get(reverse("updates:paper", args=[scene.job.public_id, "account"])).status_code == 404


class TestWhereTheyAreListed:
    def test_every_paper_on_the_managers_page_opens(self, client, scene):
        client.force_login(scene.manager)

        page = client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).content.decode()

        expected = [reverse("estimates:paper", args=[scene.job.pk, paper]) for paper in PAPERS]
        expected += [reverse("estimates:change-paper", args=[scene.job.pk, question(scene, n).pk]) for n in (3, 4, 5)]
        for address in expected:
            assert f'href="{address}"' in page
            assert client.get(address).status_code == 200

    def test_the_technicians_page_lists_those_for_the_bay(self, client, scene):
        client.force_login(scene.technician)

        page = client.get(reverse("jobs:job-detail", args=[scene.job.pk])).content.decode()

        for paper in PAPERS:
            listed = f'href="{reverse("estimates:paper", args=[scene.job.pk, paper])}"' in page
            assert listed == (paper in FOR_TECHNICIANS)

    def test_the_owners_page_lists_theirs_and_their_answers(self, client, scene):
        enter(client, scene)

        page = client.get(reverse("updates:job-story", args=[scene.job.public_id])).content.decode()

        for paper in PAPERS:
            listed = f'href="{reverse("updates:paper", args=[scene.job.public_id, paper])}"' in page
            assert listed == (paper in FOR_OWNERS)
        for number in (3, 4, 5):
            address = reverse("updates:change-paper", args=[scene.job.public_id, question(scene, number).pk])
            assert (f'href="{address}"' in page) == (number != 5)
        assert "Account so far (PDF)" in page


def enter(client, scene):
    client.get(make_link(job=scene.job, owner=scene.owner, now=timezone.now()).replace("http://127.0.0.1:8000", ""))


def test_the_work_sheet_names_no_price(scene):
    assert "$" not in words_of(render_work_sheet(scene.job, now=LATER))
