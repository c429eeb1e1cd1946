"""Payments on the price page: each way in and out, and what the owner and the papers tell of them."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.core import mail
from django.db import DatabaseError, transaction
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

from estimates.balances import read_paid
from estimates.models import Payment
from estimates.papers.account import read_account
from estimates.services.terms import NewTerm, agree_term
from jobs.models import Job, JournalEntry
from shopfloor.demo.telling import drain
from shopfloor.templatetags.shop import money
from tests.factories import NOON, JobFactory, PersonFactory
from updates.gathering import GATHERED_FOR
from updates.links import make_link

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


def pay(client, scene, **fields):
    given = {
        "payment_key": str(uuid.uuid4()),
        "paid_usd": "100",
        "paid_by": "owner",
        "paid_on": "2026-03-04",
        "way": "card",
        "note": "Receipt 12",
    }
    return client.post(reverse("estimates:payment-take", args=[scene.job.pk]), given | fields)


def take_back(client, payment, reason="Typed twice"):
    return client.post(reverse("estimates:payment-take-back", args=[payment.pk]), {f"back{payment.pk}-reason": reason})


def own(scene):
    return read_paid(scene.job, scene.job.revisions.order_by("number").last()).owner


def owners_page(scene):
    browser = Client()
    browser.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=NOON).split("/o/")[1])
    return " ".join(browser.get(reverse("updates:job-story", args=[scene.job.public_id])).text.split())


class TestTaking:
    def test_it_is_kept_with_who_took_it_and_leaves_the_rest_and_issues_no_revision(self, client, scene):
        total_usd = own(scene).total_usd

        response = pay(client, scene)

        payment = Payment.objects.get()
        assert response["Location"] == page_of(scene)
        assert (payment.amount_usd, payment.way, payment.taken_by) == (Decimal(100), "card", scene.manager)
        assert (own(scene).paid_usd, own(scene).due_usd) == (Decimal(100), total_usd - 100)
        assert scene.job.revisions.count() == 1
        entry = JournalEntry.objects.get(kind="payment_taken")
        assert (entry.data["amount_usd"], entry.person) == ("100.00", scene.manager)
        page = client.get(page_of(scene)).text
        assert "Card, the owner, Wed, Mar 4, 2026: Receipt 12" in page
        assert f"$100.00 of {money(total_usd)} paid; {money(total_usd - 100)} left" in page

    def test_sent_twice_it_is_taken_once(self, client, scene):
        key = str(uuid.uuid4())

        pay(client, scene, payment_key=key)
        pay(client, scene, payment_key=key)

        assert Payment.objects.count() == 1
        assert JournalEntry.objects.filter(kind="payment_taken").count() == 1

    def test_it_may_pay_all_that_is_left_and_not_a_cent_more(self, client, scene):
        pay(client, scene)
        left_usd = own(scene).due_usd

        refused = pay(client, scene, paid_usd=str(left_usd + Decimal("0.01")))

        assert refused.status_code == 422
        assert f"That is more than the owner has left to pay: {money(left_usd)}, tax included." in refused.text
        assert f'value="{left_usd + Decimal("0.01")}"' in refused.text, "what was typed is kept"
        assert pay(client, scene, paid_usd=str(left_usd)).status_code == 302
        assert own(scene).due_usd == 0

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"paid_usd": ""}, "How much was paid?"),
            ({"paid_usd": "-5"}, "A payment is more than nothing."),
            ({"paid_usd": "0"}, "A payment is more than nothing."),
            ({"paid_usd": "five"}, "Write a number, such as 12.5."),
            ({"paid_usd": "1.234"}, "At most 2 digits after the point, please."),
            ({"paid_by": "shop"}, "Select a valid choice"),
            ({"paid_by": "insurer"}, "The insurer has nothing left to pay."),
            ({"paid_on": "2026-03-05"}, "That day is still to come."),
            ({"paid_on": "yesterday"}, "Pick a day."),
            ({"paid_on": "1999-01-01"}, "That is long before this job was booked on March"),
            ({"way": ""}, "Choose how it was paid."),
            ({"note": "x" * 201}, "at most 200 characters"),
        ],
    )
    def test_what_cannot_be_is_refused_beside_its_field_and_nothing_is_stored(self, client, scene, fields, words):
        response = pay(client, scene, **fields)

        assert response.status_code == 422
        assert words in response.text
        assert "<details open>" in response.text
        assert not Payment.objects.exists()
        assert not JournalEntry.objects.filter(kind="payment_taken").exists()

    def test_while_nothing_is_agreed_nothing_is_owed(self, client, scene):
        bare = JobFactory(shop=scene.shop, number=900)

        response = client.post(
            reverse("estimates:payment-take", args=[bare.pk]),
            {
                "payment_key": str(uuid.uuid4()),
                "paid_usd": "5",
                "paid_by": "owner",
                "paid_on": "2026-03-04",
                "way": "cash",
            },
        )

        assert response.status_code == 422
        assert not Payment.objects.exists()

    def test_a_coach_that_has_gone_home_may_still_be_paid_for(self, client, scene):
        Job.objects.filter(pk=scene.job.pk).update(collected_at=NOON, left_bay_at=NOON)

        assert pay(client, scene).status_code == 302
        assert Payment.objects.count() == 1

    def test_the_insurer_pays_its_own_part(self, client, scene):
        finding = scene.job.findings.first()
        new = NewTerm("payer", "Storm", finding=finding, payer="insurer")
        agree_term(job_id=scene.job.pk, new=new, by=scene.manager, now=NOON)

        assert pay(client, scene, paid_by="insurer").status_code == 302

        balances = {each.payer: each for each in read_paid(scene.job, scene.job.revisions.last()).balances}
        assert balances["insurer"].paid_usd == 100
        assert balances["owner"].paid_usd == 0

    def test_a_technician_may_not_and_another_shop_finds_nothing(self, client, scene):
        client.force_login(scene.technician)
        assert pay(client, scene).status_code == 403

        client.force_login(PersonFactory(manager=True))
        assert pay(client, scene).status_code == 404
        assert not Payment.objects.exists()


class TestTakingBack:
    def test_it_is_undone_by_a_row_with_the_reason_and_both_stay(self, client, scene):
        pay(client, scene)
        payment = Payment.objects.get()

        response = take_back(client, payment)

        row = Payment.objects.get(takes_back=payment)
        assert response["Location"] == page_of(scene)
        assert (row.amount_usd, row.words, row.taken_by) == (Decimal(-100), "Typed twice", scene.manager)
        assert own(scene).paid_usd == 0
        page = client.get(page_of(scene)).text
        assert "Takes back the $100.00 of Wed, Mar 4, 2026: Typed twice" in page
        assert "Take this payment back" not in page
        assert JournalEntry.objects.get(kind="payment_taken_back").data["words"] == "Typed twice"

    def test_without_a_reason_it_is_refused_and_stands(self, client, scene):
        pay(client, scene)

        response = take_back(client, Payment.objects.get(), reason=" ")

        assert response.status_code == 422
        assert "Say why it is taken back." in response.text
        assert Payment.objects.count() == 1

    def test_twice_is_refused_and_so_is_a_row_that_takes_back(self, client, scene):
        pay(client, scene)
        payment = Payment.objects.get()
        take_back(client, payment)

        for each in Payment.objects.all():
            page = client.get(take_back(client, each)["Location"]).text
            assert "This has been taken back already." in page

        assert Payment.objects.count() == 2

    def test_a_stranger_or_technician_may_not(self, client, scene):
        pay(client, scene)
        payment = Payment.objects.get()

        client.force_login(PersonFactory(manager=True))
        assert take_back(client, payment).status_code == 404
        client.force_login(scene.technician)
        assert take_back(client, payment).status_code == 403
        assert Payment.objects.count() == 1

    def test_the_database_refuses_to_change_a_payment(self, client, scene):
        pay(client, scene)

        with pytest.raises(DatabaseError), transaction.atomic():
            Payment.objects.update(amount_usd=1)


class TestGivingBack:
    @pytest.fixture
    def overpaid(self, client, scene):
        """All was paid; then half of it is taken off the bill."""
        pay(client, scene, paid_usd=str(own(scene).total_usd))
        new = NewTerm("discount", "For the wait", pct=Decimal(50))
        agree_term(job_id=scene.job.pk, new=new, by=scene.manager, now=NOON)
        drain(NOON + GATHERED_FOR)
        mail.outbox.clear()
        return scene

    def give(self, client, scene, amount_usd, **fields):
        given = {
            "payment_key": str(uuid.uuid4()),
            "paid_usd": str(amount_usd),
            "paid_by": "owner",
            "paid_on": "2026-03-04",
            "way": "transfer",
            "note": "",
        }
        data = {f"given-{name}": value for name, value in (given | fields).items()}
        return client.post(reverse("estimates:money-give-back", args=[scene.job.pk]), data)

    def test_it_is_a_row_of_its_own_shown_everywhere_and_told_and_nothing_is_left(self, client, overpaid):
        scene, back_usd, total_usd = overpaid, own(overpaid).refund_usd, own(overpaid).total_usd
        assert f'value="{back_usd}"' in client.get(page_of(scene)).text, "filled in with what is to give back"

        response = self.give(client, scene, back_usd)

        row = Payment.objects.get(is_given_back=True)
        assert response["Location"] == page_of(scene)
        assert (row.amount_usd, row.way, row.taken_by) == (-back_usd, "transfer", scene.manager)
        assert (own(scene).paid_usd, own(scene).due_usd, own(scene).refund_usd) == (total_usd, 0, 0)
        page = client.get(page_of(scene)).text
        assert "Given back, bank transfer, to the owner, Wed, Mar 4, 2026" in page
        assert "Note money given back" not in page, "nothing is left to give back"
        owners = owners_page(scene)
        assert "given back, bank transfer" in owners
        assert "Left to pay</dt><dd>$0.00" in owners
        account = render_to_string("pdf/account.html", read_account(scene.job, now=NOON))
        assert "given back, bank transfer" in account
        drain(NOON + 2 * GATHERED_FOR)
        (letter,) = mail.outbox
        said = " ".join(letter.body.split())
        assert f"We gave {money(back_usd)} back to you by bank transfer on Wednesday, March 4, 2026." in said
        assert "We owe you" not in said

    def test_sent_twice_it_is_kept_once(self, client, overpaid):
        key = str(uuid.uuid4())

        for _ in range(2):
            self.give(client, overpaid, 1, payment_key=key)

        assert Payment.objects.filter(is_given_back=True).count() == 1

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"paid_usd": "99999.99"}, "That is more than is to give back to the owner: $"),
            ({"paid_usd": "0"}, "Money given back is more than nothing."),
            ({"paid_usd": ""}, "How much was given back?"),
            ({"paid_by": "insurer"}, "There is nothing to give back to the insurer."),
            ({"paid_on": "2026-03-05"}, "That day is still to come."),
            ({"paid_on": "1999-01-01"}, "That is long before this job was booked"),
            ({"way": ""}, "Choose how it was given back."),
        ],
    )
    def test_what_cannot_be_is_refused_in_words_and_nothing_is_stored(self, client, overpaid, fields, words):
        response = self.give(client, overpaid, fields.get("paid_usd", "5.25"), **fields)

        assert response.status_code == 422
        assert words in response.text
        assert f'value="{fields.get("paid_usd", "5.25")}"' in response.text or not fields.get("paid_usd", "5.25")
        assert not Payment.objects.filter(is_given_back=True).exists()

    def test_a_cent_more_than_is_to_give_back_is_refused(self, client, overpaid):
        assert self.give(client, overpaid, own(overpaid).refund_usd + Decimal("0.01")).status_code == 422

    def test_it_can_be_taken_back_and_a_payment_it_came_from_only_after_that(self, client, overpaid):
        back_usd = own(overpaid).refund_usd
        self.give(client, overpaid, back_usd)
        payment, row = Payment.objects.order_by("pk")

        refused = client.get(take_back(client, payment)["Location"]).text
        take_back(client, row, reason="Never went out")

        assert "Some of this was given back since." in refused
        assert own(overpaid).refund_usd == back_usd
        assert f"Takes back the {money(back_usd)} given back on Wed, Mar 4, 2026" in client.get(page_of(overpaid)).text
        take_back(client, payment)
        assert own(overpaid).paid_usd == 0

    @pytest.mark.parametrize("amount_usd", [1, -1])
    def test_the_database_holds_which_way_the_money_went(self, scene, amount_usd):
        with pytest.raises(DatabaseError), transaction.atomic():
            Payment.objects.create(
                job=scene.job,
                payer="owner",
                amount_usd=amount_usd,
                way="cash",
                paid_on=NOON.date(),
                is_given_back=amount_usd > 0,
                taken_by=scene.manager,
                taken_at=NOON,
            )

    def test_a_technician_may_not_and_another_shop_finds_nothing(self, client, overpaid):
        client.force_login(overpaid.technician)
        assert self.give(client, overpaid, 1).status_code == 403
        client.force_login(PersonFactory(manager=True))
        assert self.give(client, overpaid, 1).status_code == 404


class TestWhatTheOwnerIsTold:
    def test_what_is_left_stands_there_before_anything_was_paid_and_after_all_of_it_was(self, client, scene):
        total = money(own(scene).total_usd)

        page = owners_page(scene)

        assert f"Left to pay</dt><dd>{total}" in page
        assert "You have paid" not in page
        assert "Nothing has been paid yet." in page
        pay(client, scene, paid_usd=str(own(scene).total_usd))
        assert "Left to pay</dt><dd>$0.00" in owners_page(scene)

    def test_gone_home_with_something_left_to_pay_it_still_says_so(self, client, scene):
        Job.objects.filter(pk=scene.job.pk).update(collected_at=NOON, left_bay_at=NOON)

        assert f"Left to pay</dt><dd>{money(own(scene).due_usd)}" in owners_page(scene)

    def test_the_page_shows_what_was_paid_and_what_is_left(self, client, scene):
        pay(client, scene)

        page = owners_page(scene)

        assert "You have paid</dt><dd>$100.00" in page
        assert f"Left to pay</dt><dd>{money(own(scene).due_usd)}" in page
        assert "card, Receipt 12" in page

    def test_what_is_agreed_close_together_comes_in_one_message_with_the_figures_that_hold(self, client, scene):
        agree = reverse("estimates:term-agree", args=[scene.job.pk])
        pay(client, scene)
        with time_machine.travel(NOON + timedelta(minutes=6), tick=False):
            client.post(agree, {"kind": "discount", "pct": "10", "words": "For the wait"})
            client.post(agree, {"kind": "discount", "amount_usd": "5", "words": "For the noise"})
        drain(NOON + GATHERED_FOR - timedelta(seconds=1))
        assert mail.outbox == []

        drain(NOON + GATHERED_FOR)
        drain(NOON + timedelta(days=1))

        (letter,) = mail.outbox
        said = " ".join(letter.body.split())
        for words in ("We got $100.00 from you by card", "a discount of 10 percent", "For the noise."):
            assert words in said
        assert f"That leaves {money(own(scene).due_usd)}." in said
        assert said.count("Your part now comes to") == 1

    def test_what_comes_later_comes_in_a_message_of_its_own(self, client, scene):
        pay(client, scene)
        drain(NOON + GATHERED_FOR)
        later = NOON + timedelta(hours=1)

        with time_machine.travel(later, tick=False):
            pay(client, scene, paid_usd="50")
        drain(later + GATHERED_FOR)

        assert ["$100.00 from" in each.body for each in mail.outbox] == [True, False]
        assert "We got $50.00 from you" in mail.outbox[1].body

    def test_a_slip_that_is_mended_before_anybody_heard_of_it_is_no_news(self, client, scene):
        pay(client, scene)
        take_back(client, Payment.objects.get())
        pay(client, scene, paid_usd="50")
        drain(NOON + GATHERED_FOR)

        (letter,) = mail.outbox
        assert "We got $50.00 from you" in letter.body
        assert "$100.00" not in letter.body

    def test_one_that_was_told_is_taken_back_in_words(self, client, scene):
        pay(client, scene)
        drain(NOON + GATHERED_FOR)
        take_back(client, Payment.objects.get())
        drain(NOON + 2 * GATHERED_FOR)

        said = " ".join(mail.outbox[-1].body.split())
        assert "We had noted $100.00 from you. That was not right" in said
        assert "This is why: Typed twice." in said

    def test_the_owner_is_told_what_comes_back_when_the_total_falls_below_what_was_paid(self, client, scene):
        total_usd = own(scene).total_usd
        pay(client, scene, paid_usd=str(total_usd))
        new = NewTerm("discount", "For the wait", pct=Decimal(50))
        agree_term(job_id=scene.job.pk, new=new, by=scene.manager, now=NOON)
        drain(NOON + GATHERED_FOR)

        back_usd = own(scene).refund_usd
        assert back_usd == total_usd - own(scene).total_usd > 0
        assert f"We owe you {money(back_usd)} back." in " ".join(mail.outbox[-1].body.split())

    def test_a_worker_that_died_meanwhile_loses_nothing(self, client, scene):
        """The row that tells it is written with the payment, whatever happens before it is due."""
        pay(client, scene)

        waiting = JournalEntry.objects.get(kind="payment_taken").reactions.get()

        assert (waiting.state, waiting.due_at) == ("due", NOON + GATHERED_FOR)
