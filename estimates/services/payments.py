"""Payments taken, money given back, and either taken back by a row of its own."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from estimates import kinds
from estimates.balances import balance
from estimates.models import Payment
from jobs.errors import JobError, NotNow
from jobs.journal import record
from jobs.models import Job, Person

# A deposit may hold a place in the shop long before the coach is booked in; planning value, no source.
DEPOSIT_AHEAD = timedelta(days=90)


@dataclass(frozen=True)
class NewPayment:
    """How much [USD] came from whom, how and on which day."""

    key: uuid.UUID
    payer: str
    amount_usd: Decimal
    way: str
    paid_on: date
    words: str = ""


class TooMuchPaid(JobError):
    """A payment that makes what a payer has paid more than what it owes."""


class TooMuchGivenBack(JobError):
    """More given back than a payer has paid above what it owes."""


class WrongDay(JobError):
    """A payment of a day that is still to come, or of one long before the job was booked."""


@transaction.atomic
def take_payment(*, job_id: int, new: NewPayment, by: Person, now: datetime) -> Payment:
    """Note a payment, once however often it is sent. A coach that was collected may still be paid for.

    Raises NotNow while the job has no revision, TooMuchPaid for more than its payer still owes, WrongDay for a day
    to come or one more than DEPOSIT_AHEAD before the job was booked, JobError for an amount that is not above nought.
    After commit: the owner is told.
    """
    job = Job.objects.select_for_update(of=("self",)).select_related("shop").get(pk=job_id)
    if sent_before := job.payments.filter(key=new.key).first():
        return sent_before
    if new.amount_usd <= 0:
        raise JobError("A payment is more than nothing.")
    _refuse_wrong_day(job, new.paid_on, now)
    _refuse_too_much(job, new)
    payment = Payment.objects.create(job=job, taken_by=by, taken_at=now, **vars(new))
    record(job, kinds.PAYMENT_TAKEN, now=now, person=by, data=_data(payment))
    return payment


@transaction.atomic
def give_money_back(*, job_id: int, new: NewPayment, by: Person, now: datetime) -> Payment:
    """Note money the shop gave back, once however often it is sent.

    Raises TooMuchGivenBack for more than is to give back, WrongDay and JobError as take_payment does.
    After commit: the owner is told.
    """
    job = Job.objects.select_for_update(of=("self",)).select_related("shop").get(pk=job_id)
    if sent_before := job.payments.filter(key=new.key).first():
        return sent_before
    if new.amount_usd <= 0:
        raise JobError("Money given back is more than nothing.")
    _refuse_wrong_day(job, new.paid_on, now)
    refund_usd = balance(job, job.revisions.order_by("number").last(), new.payer).refund_usd
    if new.amount_usd > refund_usd:
        raise TooMuchGivenBack(
            f"That is more than is to give back to the {new.payer}: ${refund_usd:,.2f}."
            if refund_usd
            else f"There is nothing to give back to the {new.payer}."
        )
    fields = vars(new) | {"amount_usd": -new.amount_usd}
    row = Payment.objects.create(job=job, taken_by=by, taken_at=now, is_given_back=True, **fields)
    record(job, kinds.MONEY_GIVEN_BACK, now=now, person=by, data=_data(row))
    return row


@transaction.atomic
def take_payment_back(*, payment_id: int, reason: str, by: Person, now: datetime) -> Payment:
    """Undo a payment, or money given back, by a row that takes it back; both stay. Returns that row.

    Raises NotNow if it was taken back already, is itself such a row or was given back in part, JobError without a
    reason.
    After commit: the owner is told.
    """
    job_id = Payment.objects.values_list("job_id", flat=True).get(pk=payment_id)
    job = Job.objects.select_for_update(of=("self",)).select_related("shop").get(pk=job_id)
    payment = job.payments.for_page().get(pk=payment_id)
    if not reason.strip():
        raise JobError("Say why it is taken back.")
    if payment.takes_back_id or payment.taken_back:
        raise NotNow("This has been taken back already.")
    _refuse_below_nought(job, payment)
    row = Payment.objects.create(
        job=job,
        payer=payment.payer,
        amount_usd=-payment.amount_usd,
        way=payment.way,
        paid_on=job.shop.local_date(now),
        words=reason.strip(),
        is_given_back=payment.is_given_back,
        takes_back=payment,
        taken_by=by,
        taken_at=now,
    )
    record(job, kinds.PAYMENT_TAKEN_BACK, now=now, person=by, data=_data(row))
    return row


def _data(row: Payment) -> dict[str, object]:
    """What the journal keeps of it; a payment that is taken back with its amount above nought."""
    return {
        "payment": row.takes_back_id or row.pk,
        "payer": row.payer,
        "amount_usd": f"{abs(row.amount_usd):.2f}",
        "way": row.way,
        "paid_on": row.paid_on.isoformat(),
        "words": row.words,
        "is_given_back": row.is_given_back,
    }


def _refuse_below_nought(job: Job, payment: Payment) -> None:
    """Nobody has been given back more than was paid."""
    paid_usd = balance(job, None, payment.payer).paid_usd
    if paid_usd < payment.amount_usd:
        raise NotNow("Some of this was given back since. If that was noted wrongly, take that back first.")


def _refuse_wrong_day(job: Job, paid_on: date, now: datetime) -> None:
    if paid_on > job.shop.local_date(now):
        raise WrongDay("That day is still to come.")
    booked_on = job.shop.local_date(job.booked_at)
    if paid_on < booked_on - DEPOSIT_AHEAD:
        raise WrongDay(
            f"That is long before this job was booked on {booked_on:%B} {booked_on.day}, {booked_on.year}. "
            f"A deposit can be noted up to {DEPOSIT_AHEAD.days} days before."
        )


def _refuse_too_much(job: Job, new: NewPayment) -> None:
    """Money that nobody owes is a slip of the pen, or would have to be given back."""
    revision = job.revisions.order_by("number").last()
    if revision is None:
        raise NotNow("The first revision is still being written. Try again in a moment.")
    due_usd = balance(job, revision, new.payer).due_usd
    if new.amount_usd <= due_usd:
        return
    if due_usd:
        raise TooMuchPaid(f"That is more than the {new.payer} has left to pay: ${due_usd:,.2f}, tax included.")
    raise TooMuchPaid(f"The {new.payer} has nothing left to pay.")
