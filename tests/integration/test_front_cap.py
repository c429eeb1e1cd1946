"""The demo's front cap from price to warranty: what was asked, agreed, declined and done twice, to the cent."""

from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command

from estimates import kinds
from estimates.job_hours import read_job_hours
from estimates.margin import read_margin
from estimates.models import Offer
from estimates.papers.account import read_account, render_account
from estimates.papers.warranty import read_warranty, render_warranty
from jobs import kinds as job_kinds
from jobs.models import Decision, Finding, Job, MaterialUse
from shopfloor.demo import scenario, telling
from shopfloor.demo.front_cap import tell_front_cap
from tests.paper_scenes import words_of
from tests.scenes import jpeg

NOW = datetime(2026, 11, 25, 16, 10, tzinfo=ZoneInfo(telling.ZONE))
CENT = Decimal("0.01")

pytestmark = pytest.mark.django_db


def told():
    demo = scenario.open_shop(NOW)
    tell_front_cap(demo)
    demo.run()
    return Job.objects.with_coach().get()


@pytest.fixture(scope="module")
def kept(keeper):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(telling, "draw_photo", lambda kind, **size: jpeg())
        return keeper(told)


@pytest.fixture
def job(kept):
    return kept()


def found(job):
    return {finding.kind: finding for finding in job.findings.filter(is_booked=False)}


def added_by_hand(job, groups):
    """Total of these groups [USD], worked out here: parts taxed, labour not, tax half up on the sum."""
    lines = [line for group in groups for line in group["lines"]]
    assert {line["payer"] for line in lines} == {"owner"}
    rates = job.shop.rates
    assert (rates.tax_basis, rates.is_labour_taxed) == ("invoice", False)
    taxed = sum(Decimal(line["amount_usd"]) for line in lines if line["kind"] == "material")
    tax = (taxed * rates.tax_rate_pct / 100).quantize(CENT, ROUND_HALF_UP)
    return sum(Decimal(line["amount_usd"]) for line in lines) + tax


def test_the_whole_story_ends_in_papers_that_agree_with_the_journal(job):
    finds = found(job)
    offers = {kind: Offer.objects.get(finding=finding) for kind, finding in finds.items()}
    assert set(finds) == {"rotten_framing", "loose_skin", "exposed_wire"}
    assert all(len(offer.choices) >= 2 for offer in offers.values()), "each with two remedies or more, priced"
    assert all(choice.total_usd > 0 for offer in offers.values() for choice in offer.offered())

    first, with_splice, with_panel = revisions = list(job.revisions.order_by("number"))
    agreed = [offers["rotten_framing"].choices[0], offers["loose_skin"].choices[0]]
    assert [group["lines"] for group in with_panel.content["groups"][-2:]] == [each["lines"] for each in agreed]
    for revision in revisions:
        assert revision.total_usd == added_by_hand(job, revision.content["groups"])
    assert first.total_usd < with_splice.total_usd < with_panel.total_usd

    settled = list(job.entries.filter(kind=kinds.SCOPE_SETTLED).order_by("number"))
    assert [(each.data["finding"], each.data["is_approved"]) for each in settled] == [
        (None, True),
        (finds["rotten_framing"].pk, True),
        (finds["loose_skin"].pk, True),
        (finds["exposed_wire"].pk, False),
    ]
    told = [Decimal(each.data["total_usd"]) for each in settled]
    assert told == [first.total_usd, with_splice.total_usd, with_panel.total_usd, with_panel.total_usd]
    assert [each.data["revision_sha256"] for each in settled[:3]] == [each.sha256 for each in revisions]
    for decision in Decision.objects.filter(request__finding__job=job):
        assert decision.offer_sha256 == decision.request.finding.offers.get().sha256

    account = read_account(job, now=NOW)
    assert account["is_final"]
    assert account["is_whole"]
    assert account["sheet"].totals["total_usd"] == told[-1]
    words = words_of(render_account(job, now=NOW))
    assert "Final account" in words
    assert f"${told[-1]:,.2f}" in words
    assert "no charge" in words
    assert "A ripple across the middle shows in low light." in words

    call_command("verify_journal")


def test_what_was_done_twice_costs_the_shop_and_not_the_owner(job):
    failed = job.entries.get(kind=job_kinds.HOLD_POINT_FAILED)
    again = job.operations.get(redo_of__isnull=False)

    hours = read_job_hours(job, NOW)

    assert not job.revisions.filter(issued_at__gte=failed.at).exists(), "the owner's total did not move"
    assert again.payer == "shop"
    assert hours.rework_hours > 0
    assert hours.rework_usd == (Decimal(hours.rework_hours) * job.shop.rates.labour_usd_per_hour).quantize(CENT)
    moved = [change for change in job.date_changes.all() if change.cause == "rework"]
    assert moved, "the plan did move"
    assert moved[0].to_on > moved[0].from_on


def test_the_material_noted_counts_in_the_margin(job):
    margin = read_margin(job, NOW)

    assert MaterialUse.objects.filter(operation__job=job).exists()
    assert margin.uncounted == ()
    assert margin.whole.material.spent_usd > 0


def test_the_warranty_covers_what_was_done_and_leaves_out_what_was_declined(job):
    wires = Finding.objects.get(job=job, kind="exposed_wire")

    warranty = read_warranty(job, now=NOW)
    words = words_of(render_warranty(job, now=NOW))

    groups = job.revisions.last().content["groups"]
    assert [(each.finding_number, each.warranty) for each in warranty["done"]] == [
        (group["finding_number"], group["warranty"]) for group in groups
    ]
    assert warranty["undone"] == []
    assert [each.finding for each in warranty["declined"]] == [wires]
    for each in warranty["done"]:
        assert each.warranty in words
    assert "Protect wires" not in words
