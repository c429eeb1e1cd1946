"""The price of a job: who pays what, discounts, each change a revision of its own."""

import re
from decimal import Decimal

import pytest
import time_machine
from django.core import mail
from django.urls import reverse

from estimates.models import Offer, Rates, Revision, Term
from estimates.papers.account import read_settled, render_account
from estimates.papers.estimate import render_estimate
from jobs.models import Job, JournalEntry
from jobs.models.work import Phase
from shopfloor.demo.telling import drain
from shopfloor.templatetags.shop import money
from tests import paper_scenes
from tests.factories import NOON, PersonFactory
from tests.paper_scenes import words_of
from tests.scenes import find_rot
from updates.gathering import GATHERED_FOR

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        mail.outbox.clear()
        yield scene


def page_of(scene):
    return reverse("estimates:price-detail", args=[scene.job.pk])


def agree(client, scene, **fields):
    return client.post(reverse("estimates:term-agree", args=[scene.job.pk]), {"words": "Agreed at the desk"} | fields)


def latest(scene):
    return Revision.objects.filter(job=scene.job).order_by("number").last()


def part(revision, payer):
    return next(each for each in revision.content["payers"] if each["payer"] == payer)


def test_the_page_shows_lines_how_they_came_about_and_what_may_be_hidden(client, scene):
    page = client.get(page_of(scene)).text

    assert "Who pays" in page
    assert "Damage not yet found" in page
    assert "planning assumption" in page
    assert "19.7 ft of edge × 1 bead, with 10% waste, 10.8 ft a cartridge = 3 cartridges" in page
    assert "19.7 ft round the edge, with 10% waste, 30 ft in one = 1 roll of 30 ft" in page


def test_what_may_be_hidden_is_said_no_more_once_the_booked_work_has_opened_the_coach(client, scene):
    opening = scene.job.operations.filter(phase=Phase.OPEN_UP)
    opening.update(started_at=NOON, finished_at=NOON)
    find_rot(scene, kind="wet_insulation", remedy=scene.shop.standard_remedies.get(name="Renew wet insulation"))
    drain(NOON)
    paper_scenes.answer(scene, NOON, channel="in_person")

    assert opening.unfinished().exists(), "what was found opens more"
    assert "Damage not yet found" not in client.get(page_of(scene)).text


def test_what_may_be_hidden_is_said_no_more_of_a_coach_that_was_collected(client, scene):
    Job.objects.filter(pk=scene.job.pk).update(collected_at=NOON, left_bay_at=NOON)

    assert "Damage not yet found" not in client.get(page_of(scene)).text


def test_a_percentage_lowers_what_the_owner_pays_and_the_tax_with_it(client, scene):
    before = latest(scene)

    response = agree(client, scene, kind="discount", pct="10")
    drain(NOON + GATHERED_FOR)

    after = latest(scene)
    assert response["Location"] == page_of(scene)
    assert after.number == before.number + 1
    assert Decimal(after.content["totals"]["discount_usd"]) < 0
    subtotal = Decimal(before.content["totals"]["subtotal_usd"])
    assert Decimal(after.content["totals"]["subtotal_usd"]) == subtotal - (subtotal / 10).quantize(Decimal("0.01"))
    assert after.total_usd < before.total_usd
    assert before.total_usd == Revision.objects.get(pk=before.pk).total_usd, "the earlier revision stays as it was"
    assert mail.outbox[-1].subject.startswith("The bill for your 2011 travel trailer changed")
    assert "Agreed at the desk" in mail.outbox[-1].body


def test_an_insurer_takes_over_one_finding_and_the_parts_sum_to_the_whole(client, scene):
    before = latest(scene)
    finding = scene.job.findings.order_by("number")[0]

    agree(client, scene, kind="payer", finding=finding.pk, payer="insurer")

    after = latest(scene)
    owner, insurer = part(after, "owner"), part(after, "insurer")
    assert Decimal(insurer["total_usd"]) > 0
    assert Decimal(owner["total_usd"]) + Decimal(insurer["total_usd"]) == before.total_usd
    assert after.total_usd == Decimal(owner["total_usd"])
    assert "paid by the insurer" in client.get(page_of(scene)).text


def test_what_is_printed_adds_up_when_the_insurer_pays_a_finding(client, scene):
    finding = scene.job.findings.order_by("number")[0]
    agree(client, scene, kind="payer", finding=finding.pk, payer="insurer")
    agree(client, scene, kind="discount", pct="7", words="For the long wait")

    rows = printed_rows(client.get(page_of(scene)).text)

    lines = [amount for words, amount in rows if words == ""]
    together = [amount for words, amount in rows if words.startswith("Together")]
    foot = {words.partition(",")[0]: amount for words, amount in rows if words and not words.startswith("Together")}
    assert list(foot) == ["Labour", "Material", "Discount", "Tax", "All of it", "Paid by the insurer", "The owner pays"]
    assert all(together)
    assert sum(together) == sum(lines) == foot["Labour"] + foot["Material"]
    assert sum(foot[name] for name in ("Labour", "Material", "Discount", "Tax")) == foot["All of it"]
    assert foot["All of it"] + foot["Paid by the insurer"] == foot["The owner pays"] == latest(scene).total_usd
    assert foot["Paid by the insurer"] == -Decimal(part(latest(scene), "insurer")["total_usd"])


def test_the_papers_tell_the_owner_what_is_theirs(client, scene):
    finding = scene.job.findings.order_by("number")[0]
    agree(client, scene, kind="payer", finding=finding.pk, payer="insurer")

    for render in (render_account, render_estimate):
        assert f"You pay {money(latest(scene).total_usd)}" in words_of(render(scene.job, now=NOON))


def printed_rows(page):
    """Each amount in the table of lines as printed, with the words of its row; none for a line."""
    table = page.partition("Work and material</caption>")[2].partition("</table>")[0]
    rows = []
    for row in table.split("<tr>")[1:]:
        amounts = re.findall(r'data-label="Amount">(-?)\$([\d,.]+)<', row)
        words = re.search(r'colspan="3">([^<]+)<', row)
        rows += [(words[1] if words else "", Decimal(sign + figure.replace(",", ""))) for sign, figure in amounts]
    return rows


def test_taking_it_back_restores_the_price_in_a_further_revision(client, scene):
    before = latest(scene)
    agree(client, scene, kind="discount", amount_usd="50")
    term = Term.objects.get()

    client.post(reverse("estimates:term-take-back", args=[term.pk]))

    assert latest(scene).number == before.number + 2
    assert latest(scene).total_usd == before.total_usd
    assert JournalEntry.objects.filter(kind="terms_changed").count() == 2


def test_the_account_says_that_it_was_taken_back(client, scene):
    agree(client, scene, kind="discount", amount_usd="50", words="For the wait")
    client.post(reverse("estimates:term-take-back", args=[Term.objects.get().pk]))

    settled = [each.term for each in read_settled(scene.job)]

    assert settled == ["", "discount: For the wait", "discount: For the wait, taken back"]


def test_what_is_agreed_is_never_taxed_anew_and_a_yes_adds_what_was_offered(client, scene):
    before = latest(scene)
    Rates.objects.update(tax_rate_pct="25", is_labour_taxed=True, tax_basis="item")
    scene.shop.refresh_from_db()

    agree(client, scene, kind="payer", finding=scene.job.findings.first().pk, payer="owner")
    after_term = latest(scene)
    find_rot(scene)
    drain(NOON)
    offer = Offer.objects.get()
    paper_scenes.answer(scene, NOON, channel="in_person")

    added = Decimal(offer.choices[0]["totals"]["subtotal_usd"])
    material = Decimal(offer.choices[0]["totals"]["material_usd"])
    assert after_term.total_usd == before.total_usd
    assert after_term.content["tax"] == before.content["tax"]
    rate = Decimal(before.content["tax"]["rate_pct"]) / 100
    assert abs(offer.total_usd - added - material * rate) < Decimal("0.01"), "parts at the rate first agreed"
    assert abs(latest(scene).total_usd - before.total_usd - offer.total_usd) <= Decimal("0.01")


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"kind": "discount"}, "Give an amount or a percentage, one of them."),
        ({"kind": "discount", "amount_usd": "5", "pct": "5"}, "Give an amount or a percentage, one of them."),
        ({"kind": "discount", "amount_usd": "-5"}, "A discount is more than nothing."),
        ({"kind": "discount", "pct": "101"}, "At most 100, please."),
        ({"kind": "discount", "amount_usd": "99999"}, "That discount is more than what it is given on."),
        ({"kind": "discount", "amount_usd": "five"}, "Write a number, such as 12.5."),
        ({"kind": "payer", "payer": "insurer"}, "Choose the finding that somebody else pays for."),
        ({"kind": "deposit", "payer": "owner", "amount_usd": "5"}, "Select a valid choice"),
        ({}, "Choose what is agreed."),
        ({"kind": "discount", "pct": "5", "words": ""}, "Say why, in a few words."),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_stored(client, scene, fields, words):
    response = agree(client, scene, **fields)

    assert response.status_code == 422
    assert words in response.text
    assert not Term.objects.exists()
    assert Revision.objects.filter(job=scene.job).count() == 1


def test_a_technician_may_not(client, scene):
    client.force_login(scene.technician)

    assert client.get(page_of(scene)).status_code == 403
    assert agree(client, scene, kind="discount", pct="5").status_code == 403


def test_another_shops_manager_finds_nothing(client, scene):
    client.force_login(PersonFactory(manager=True))

    assert client.get(page_of(scene)).status_code == 404
