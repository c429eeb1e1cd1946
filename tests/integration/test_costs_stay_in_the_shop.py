"""No owner's page, paper or mail shows what something costs the shop or what stays with it."""

import json
import re

import pytest
import time_machine
from django.core import mail
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

from estimates.margin import read_margin
from estimates.models import Offer, Revision, RevisionCosts
from estimates.papers import PAPERS, account, change, estimate, warranty
from estimates.sheet import read_sheet
from jobs.models import ApprovalRequest, Decision, MaterialUse
from jobs.services.approvals import Answer, record_decision
from shopfloor.demo.telling import drain
from tests.factories import NOON
from tests.scenes import find_rot, opened_coach
from updates.links import make_link

pytestmark = pytest.mark.django_db

# Not the margin of a style.
OWN_WORDS = re.compile(r"\bmargin\b(?!\s*[:-])|cost_usd|labour_cost|costs the shop|spent so far", re.IGNORECASE)


def told_job():
    """A job with agreed found work, an open question and costs kept for both."""
    scene = opened_coach(NOON)
    find_rot(scene)
    drain(NOON)
    asked = ApprovalRequest.objects.get()
    answer = Answer(asked.remedy, scene.owner.name, scene.owner, Decision.Channel.LINK)
    record_decision(request_id=asked.pk, seen_sha256=asked.offer_sha256, answer=answer, by=None, now=NOON)
    find_rot(scene, kind="mould")
    drain(NOON)
    return scene


@pytest.fixture(scope="module")
def kept_job(keeper):
    with time_machine.travel(NOON, tick=False):
        return keeper(told_job)


@pytest.fixture
def scene(kept_job):
    with time_machine.travel(NOON, tick=False):
        yield kept_job()


def secrets(scene):
    """Figures that are the shop's alone, as a page would print them."""
    margin = read_margin(scene.job, NOON)
    kept = RevisionCosts.objects.order_by("pk").last().content
    lines = [text for group in kept.values() for text in group["lines"].values()]
    sums = [margin.whole.estimated_usd, margin.whole.cost.estimated_usd, margin.whole.labour.estimated_usd]
    shown = {line["amount_usd"] for group in latest(scene).content["groups"] for line in group["lines"]}
    shown |= {line["unit_price_usd"] for group in latest(scene).content["groups"] for line in group["lines"]}
    return {f"${float(each):,.2f}" for each in [*lines, *sums, "52.00"] if str(each) not in shown}


def latest(scene):
    return Revision.objects.filter(job=scene.job).order_by("number").last()


def leaks(text, scene):
    return sorted({each for each in secrets(scene) if each in text} | set(OWN_WORDS.findall(text)))


def test_there_is_something_that_could_leak(scene):
    assert len(secrets(scene)) > 10
    assert leaks("What it costs the shop: $52.00", scene) == ["$52.00", "costs the shop"]


def test_neither_offers_nor_revisions_hold_a_cost(scene):
    for row in [*Offer.objects.all(), *Revision.objects.all()]:
        assert leaks(json.dumps(row.content), scene) == []


def test_no_page_of_the_owner_shows_one(scene):
    browser = Client()
    browser.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=NOON).split("/o/")[1])

    story = browser.get(reverse("updates:job-story", args=[scene.job.public_id]))
    thanks = browser.get(reverse("updates:decision-thanks", args=[scene.job.public_id, Decision.objects.get().pk]))

    assert (story.status_code, thanks.status_code) == (200, 200)
    assert leaks(story.text + thanks.text, scene) == []


def test_no_paper_of_the_owner_shows_one(scene):
    asked = ApprovalRequest.objects.order_by("pk")
    papers = {
        "pdf/estimate.html": estimate.read_estimate(scene.job, now=NOON),
        "pdf/account.html": account.read_account(scene.job, now=NOON),
        "pdf/warranty.html": warranty.read_warranty(scene.job, now=NOON),
        "pdf/change_approval.html": change.read_change(scene.job, asked.last().pk, now=NOON),
    }
    revision = latest(scene)
    whose = {"job": scene.job, "shop": scene.shop, "owners": [scene.owner]}
    papers["pdf/agreed_work.html"] = {"sheet": read_sheet(revision), "revision": revision, **whose}

    assert {f"pdf/{name}.html" for name, paper in PAPERS.items() if paper.is_for_owner} <= set(papers)
    for template, context in papers.items():
        text = render_to_string(template, context)
        assert "$" in text or template == "pdf/warranty.html"
        assert leaks(text, scene) == [], template


def test_no_mail_tells_one(scene):
    assert len(mail.outbox) >= 3
    for sent in mail.outbox:
        assert leaks(sent.body + str(sent.alternatives), scene) == [], sent.subject


def test_a_technicians_page_of_the_agreed_work_shows_none(scene):
    browser = Client()
    browser.force_login(scene.technician)

    page = browser.get(reverse("estimates:revision-detail", args=[latest(scene).pk]))

    assert page.status_code == 200
    assert leaks(page.text, scene) == []
    assert not MaterialUse.objects.exists()
