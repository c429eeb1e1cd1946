"""What stays with the shop: the sums alone, then by the rows of a job."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.margin import Cost, Part, Stuff, Work, labour_cost, material_cost, share_pct, whole
from estimates.margin import read_margin
from estimates.models import OfferCosts, Rates, RevisionCosts
from estimates.services.terms import NewTerm, agree_term
from jobs.models import ApprovalRequest, Decision, MaterialUse
from jobs.services.approvals import Answer, record_decision
from jobs.services.work import fail_hold_point
from shopfloor.demo.telling import drain
from tests.factories import NOON, HoldPointFactory, WorkSpanFactory
from tests.scenes import find_rot

D = Decimal
RATE = D("52.00")
usd = st.decimals(min_value=0, max_value=99999, places=2)
costs = st.builds(Cost, usd, usd, usd)
parts = st.builds(Part, usd, costs, costs)


@pytest.mark.parametrize(
    ("work", "hours"),
    [
        (Work(4.0, 0.0, is_finished=False), 4.0),
        (Work(4.0, 1.5, is_finished=False), 4.0),
        (Work(4.0, 6.0, is_finished=False), 6.0),
        (Work(4.0, 6.0, is_finished=True), 6.0),
        (Work(4.0, 2.5, is_finished=True), 2.5),
        (Work(4.0, 0.0, is_finished=True), 4.0),
    ],
)
def test_open_work_counts_with_the_larger_and_finished_work_with_the_clock(work, hours):
    assert work.standing_hours == hours


@pytest.mark.parametrize(
    ("stuff", "standing"),
    [
        (Stuff(D(100), None, is_over=True), D(100)),
        (Stuff(D(100), D(40), is_over=False), D(100)),
        (Stuff(D(100), D(140), is_over=False), D(140)),
        (Stuff(D(100), D(40), is_over=True), D(40)),
    ],
)
def test_material_counts_as_estimated_until_it_is_noted(stuff, standing):
    assert stuff.standing_usd == standing


def test_labour_costs_hours_at_what_an_hour_costs_each_rounded_once():
    cost = labour_cost([Work(0.25, 0.333, is_finished=True), Work(2.0, 0.5, is_finished=False)], D("45.55"))

    assert cost == Cost(D("11.39") + D("91.10"), D("15.03") + D("22.78"), D("15.03") + D("91.10"))


def test_work_done_again_was_in_no_estimate():
    cost = labour_cost([Work(3.0, 1.0, is_finished=False)], RATE, is_estimated=False)

    assert cost == Cost(D("0.00"), D("52.00"), D("156.00"))


@pytest.mark.parametrize("hours", [-1.0, float("nan")])
def test_hours_that_cannot_be_are_refused(hours):
    with pytest.raises(ValueError, match="clocked_hours must be at least 0"):
        Work(1.0, hours, is_finished=False)


def test_a_rate_in_parts_of_a_cent_is_refused():
    with pytest.raises(ValueError, match="usd_per_hour must be"):
        labour_cost([], D("52.005"))


def test_a_share_of_nothing_is_none():
    assert share_pct(D(30), D(120)) == D("25.0")
    assert share_pct(D(-30), D(0)) is None


@given(st.lists(parts, max_size=8))
def test_the_parts_sum_to_the_whole_in_every_column(some):
    total = whole(some)

    assert total.price_usd == sum((part.price_usd for part in some), D(0))
    assert total.estimated_usd == sum((part.estimated_usd for part in some), D(0))
    assert total.standing_usd == sum((part.standing_usd for part in some), D(0))
    assert total.estimated_usd + total.cost.estimated_usd == total.price_usd
    assert total.standing_usd + total.cost.standing_usd == total.price_usd


@given(st.lists(parts, max_size=5), st.lists(st.floats(0.1, 60), min_size=1, max_size=4), usd)
def test_rework_lowers_the_margin_by_what_it_costs_and_leaves_price_and_estimate(some, hours, rate):
    cost = labour_cost([Work(each, 0.0, is_finished=False) for each in hours], rate, is_estimated=False)

    before, after = whole(some), whole([*some, Part(labour=cost)])

    assert after.price_usd == before.price_usd
    assert after.estimated_usd == before.estimated_usd
    assert before.standing_usd - after.standing_usd == cost.standing_usd >= 0


@given(st.lists(st.builds(Stuff, usd, st.none() | usd, st.booleans()), max_size=6))
def test_material_noted_never_changes_what_was_estimated(stuff):
    cost = material_cost(stuff)

    assert cost.estimated_usd == sum((each.estimated_usd for each in stuff), D(0))
    assert cost.spent_usd == sum((each.used_usd or D(0) for each in stuff), D(0))


# --- by the rows of a job


@pytest.fixture
def scene(db, kept_coach):
    with time_machine.travel(NOON, tick=False):
        yield kept_coach()


def margin_of(scene):
    return read_margin(scene.job, NOON)


def lines_of(content, kind):
    return [line for group in content["groups"] for line in group["lines"] if line["kind"] == kind]


def labour(scene):
    return scene.job.operations.filter(kind="labour", redo_of__isnull=True)


def finish(operation, hours):
    """Finished with so many person-hours clocked."""
    operation.started_at, operation.finished_at = NOON, NOON
    operation.save()
    begun = NOON - timedelta(hours=hours)
    WorkSpanFactory(operation=operation, started_at=begun, ended_at=NOON)


def say_yes(scene):
    asked = ApprovalRequest.objects.get()
    answer = Answer(asked.remedy, scene.owner.name, scene.owner, Decision.Channel.LINK)
    record_decision(request_id=asked.pk, seen_sha256=asked.offer_sha256, answer=answer, by=None, now=NOON)
    drain(NOON)


def test_the_estimate_is_price_less_hours_and_packs_at_cost(scene):
    content = scene.job.revisions.get().content

    margin = margin_of(scene)

    hours = sum(
        D(line["quantity"]) for group in content["groups"] for line in group["lines"] if line["kind"] == "labour"
    )
    assert margin.whole.price_usd == D(content["totals"]["subtotal_usd"])
    assert margin.whole.labour.estimated_usd == hours * RATE
    assert margin.whole.cost.standing_usd == margin.whole.cost.estimated_usd
    assert margin.words == "The margin stands as it was estimated."
    # The shop's markup of 30 % on material is all that stays of it, but for cents of rounding.
    material = D(content["totals"]["material_usd"])
    assert abs(material - margin.whole.material.estimated_usd * D("1.3")) < D("0.50")


def test_hours_over_the_estimate_come_off_the_margin(scene):
    operation = labour(scene).first()
    before = margin_of(scene).whole

    finish(operation, operation.hours * operation.crew + 2)

    after = margin_of(scene)
    assert before.standing_usd - after.whole.standing_usd == 2 * RATE
    assert after.words == "$104.00 less stays with the shop than was estimated."
    assert after.whole.price_usd == before.price_usd


@pytest.mark.parametrize(
    ("until_h", "ended", "counted_h"),
    [
        (2, False, 2),  # two in the afternoon, still at it
        (4, False, 4),  # closing time
        (9, False, 4),
        (21, False, 4),  # the next morning
        (21, True, 21),  # clocked off: nobody cuts it
    ],
)
def test_an_open_clock_counts_no_further_than_closing_time(scene, until_h, ended, counted_h):
    operation = labour(scene).first()
    until = NOON + timedelta(hours=until_h)
    span = WorkSpanFactory(operation=operation, started_at=NOON, ended_at=until if ended else None)

    margin = read_margin(scene.job, until)

    assert margin.whole.labour.spent_usd == counted_h * RATE
    assert list(margin.running) == ([] if ended else [span])


def test_the_price_page_says_whose_clock_is_open_since_when(scene):
    browser = Client()
    browser.force_login(scene.manager)
    page = reverse("estimates:price-detail", args=[scene.job.pk])
    assert "Correct" not in browser.get(page).text
    span = WorkSpanFactory(operation=labour(scene).first(), started_at=NOON, ended_at=None)

    text = " ".join(browser.get(page).text.split())

    assert "1 clock on this job is open." in text
    assert f"{span.person.get_full_name()} on {span.operation.words}, since Wed, Mar 4, 12:00 PM." in text
    assert reverse("jobs:span-mend", args=[span.pk]) in text
    assert reverse("estimates:actuals") in text.partition("1 clock on this job")[2]


def test_material_is_counted_as_its_line_was_bought_or_as_the_catalogue_has_it(scene):
    operation = labour(scene).filter(remedy__standard__name="Renew the edge seal").first()
    line = lines_of(scene.job.revisions.get().content, "material")[0]
    before = margin_of(scene).whole.material
    use(operation, line["words"], 50, f"{line['unit']}s")
    use(operation, "Elbow grease", 1, "bucket")

    margin = margin_of(scene)

    kept = D(RevisionCosts.objects.get().content[str(operation.remedy.finding_id)]["lines"][line["key"]])
    assert margin.whole.material.spent_usd == (kept / D(line["quantity"]) * 50).quantize(D("0.01"))
    assert margin.whole.material.estimated_usd == before.estimated_usd
    assert [each.name for each in margin.uncounted] == ["Elbow grease"]


@pytest.mark.parametrize(("quantity", "unit"), [(1, "stick of 8 ft"), (2, "sticks of 8 ft")])
def test_one_stick_and_two_are_found_in_the_catalogue(scene, quantity, unit):
    timber = scene.job.shop.materials.get(name="Framing timber, planed")
    use(labour(scene).first(), timber.name, quantity, unit)

    margin = margin_of(scene)

    assert timber.sold_unit == "stick of 8 ft"
    assert margin.uncounted == ()
    assert margin.whole.material.spent_usd == quantity * timber.pack_cost_usd


@pytest.mark.parametrize("unit", ["sticks", "stick of 12 in", "8 ft"])
def test_what_is_sold_in_no_such_way_is_not_counted(scene, unit):
    use(labour(scene).first(), "Framing timber, planed", 2, unit)

    assert [each.unit for each in margin_of(scene).uncounted] == [unit]


def use(operation, name, quantity, unit):
    by = operation.job.findings.first().posted_by
    MaterialUse.objects.create(
        operation=operation, key=uuid.uuid4(), name=name, quantity=quantity, unit=unit, noted_by=by, noted_at=NOON
    )


def test_rework_moves_margin_and_plan_and_not_the_owners_total(scene):
    operation = labour(scene).first()
    finish(operation, operation.hours * operation.crew)
    check = HoldPointFactory(operation=operation) if not hasattr(operation, "hold_point") else operation.hold_point
    drain(NOON)
    before, total = margin_of(scene).whole, scene.job.revisions.order_by("number").last().total_usd
    expected_at = scene.job.forecast.expected_at

    fail_hold_point(hold_point_id=check.pk, note="Not straight", redo_hours=30.0, by=scene.manager, now=NOON)
    drain(NOON)

    after = margin_of(scene)
    scene.job.forecast.refresh_from_db()
    assert before.standing_usd - after.whole.standing_usd == 30 * operation.crew * RATE
    assert after.whole.estimated_usd == before.estimated_usd
    assert after.whole.price_usd == before.price_usd
    assert scene.job.revisions.order_by("number").last().total_usd == total
    assert scene.job.forecast.expected_at > expected_at
    assert "done again at the shop’s cost" in " ".join(row.words for row in after.rows)


def test_a_discount_comes_off_the_margin_in_full(scene):
    before = margin_of(scene).whole
    agree_term(job_id=scene.job.pk, new=NewTerm("discount", "Came back", amount_usd=D(40)), by=scene.manager, now=NOON)

    after = margin_of(scene)

    assert before.estimated_usd - after.whole.estimated_usd == D(40)
    assert after.rows[-1].words == "Discounts"


def test_what_an_insurer_pays_is_price_and_what_the_shop_pays_is_none(scene):
    before = margin_of(scene).whole
    first, second = scene.job.findings.order_by("number")[:2]
    for finding, payer in ((first, "insurer"), (second, "shop")):
        new = NewTerm("payer", "Agreed", finding=finding, payer=payer)
        agree_term(job_id=scene.job.pk, new=new, by=scene.manager, now=NOON)

    after = margin_of(scene)

    assert after.rows[0].part.price_usd > 0
    assert after.rows[1].part.price_usd == 0
    assert after.whole.cost == before.cost


def test_an_agreed_remedy_keeps_the_costs_of_its_offer(scene):
    find_rot(scene)
    drain(NOON)
    Rates.objects.filter(shop=scene.shop).update(labour_cost_usd_per_hour=D("99.00"))
    scene.shop.materials.update(pack_cost_usd=D("7777.00"))

    say_yes(scene)

    asked = ApprovalRequest.objects.get()
    offered = OfferCosts.objects.get().content[str(asked.remedy_id)]
    kept = RevisionCosts.objects.order_by("pk").last().content
    assert kept[str(asked.finding_id)] == offered
    assert offered["labour_usd_per_hour"] == "52.00"
    assert len(kept) == 3
    assert margin_of(scene).unknown == ()


def test_without_a_cost_of_labour_the_margin_is_not_known_and_says_for_what(scene):
    Rates.objects.filter(shop=scene.shop).update(labour_cost_usd_per_hour=None)
    find_rot(scene)
    drain(NOON)
    say_yes(scene)

    margin = margin_of(scene)

    assert margin.whole is None
    assert margin.estimated_pct is None
    assert len(margin.unknown) == 1
    assert "rotten framing" in margin.unknown[0]


def test_a_revision_from_before_costs_were_kept_has_no_margin(scene):
    RevisionCosts.objects.all().delete()

    margin = margin_of(scene)

    assert margin.whole is None
    assert len(margin.unknown) == 2


def test_it_takes_the_same_queries_however_much_was_clocked(scene, django_assert_max_num_queries):
    for operation in labour(scene):
        finish(operation, 1)
        use(operation, "Elbow grease", 1, "bucket")

    with django_assert_max_num_queries(10):
        margin_of(scene)


def test_the_price_page_shows_it_to_managers(scene):
    browser = Client()
    browser.force_login(scene.manager)

    page = browser.get(reverse("estimates:price-detail", args=[scene.job.pk])).text

    whole_now = margin_of(scene).whole
    assert "Margin, before tax" in page
    assert f"${whole_now.estimated_usd:,.2f}" in page
    assert f"${whole_now.cost.standing_usd:,.2f}" in page
