"""The price of a job: its lines, who pays what, what is agreed beside the work, what was paid."""

from collections.abc import Callable
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from estimates.agreed_work import is_shut, read_agreed_work
from estimates.balances import Paid, read_paid
from estimates.forms import GivenBackForm, PaymentBackForm, PaymentForm, TermForm
from estimates.margin import read_margin
from estimates.models import Payment, Term
from estimates.outlook import hidden_damage
from estimates.services.payments import (
    TooMuchGivenBack,
    TooMuchPaid,
    WrongDay,
    give_money_back,
    take_payment,
    take_payment_back,
)
from estimates.services.terms import agree_term, take_term_back
from estimates.sheet import read_sheet
from jobs.errors import JobError
from jobs.models import Job
from jobs.views.access import manager_required, person_of

# The field that a refusal speaks of.
PAYMENT_FIELDS: dict[type[JobError], str] = {
    TooMuchPaid: "paid_usd",
    TooMuchGivenBack: "paid_usd",
    WrongDay: "paid_on",
}


@require_safe
@manager_required
def price_detail(request: HttpRequest, job_id: int) -> HttpResponse:
    return _draw(request, _job(request, job_id))


@require_POST
@manager_required
def term_agree(request: HttpRequest, job_id: int) -> HttpResponse:
    job = _job(request, job_id)
    form = TermForm(request.POST, job=job)
    if not form.is_valid():
        return _draw(request, job, term=form)
    try:
        revision = agree_term(job_id=job.pk, new=form.term(), by=person_of(request), now=timezone.now())
    except JobError as refusal:
        form.add_error(None, str(refusal))
        return _draw(request, job, term=form)
    messages.success(request, f"Agreed. Revision {revision.number} is issued and the owner is told.")
    return redirect("estimates:price-detail", job_id=job.pk)


@require_POST
@manager_required
def term_take_back(request: HttpRequest, term_id: int) -> HttpResponse:
    person = person_of(request)
    term = get_object_or_404(Term, pk=term_id, job__in=Job.objects.visible_to(person))
    try:
        revision = take_term_back(term_id=term.pk, by=person, now=timezone.now())
    except JobError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"Taken back. Revision {revision.number} is issued and the owner is told.")
    return redirect("estimates:price-detail", job_id=term.job_id)


@require_POST
@manager_required
def payment_take(request: HttpRequest, job_id: int) -> HttpResponse:
    return _note(request, job_id, PaymentForm(request.POST), take_payment, "noted")


@require_POST
@manager_required
def money_give_back(request: HttpRequest, job_id: int) -> HttpResponse:
    return _note(request, job_id, GivenBackForm(request.POST), give_money_back, "given back is noted")


@require_POST
@manager_required
def payment_take_back(request: HttpRequest, payment_id: int) -> HttpResponse:
    person = person_of(request)
    payment = get_object_or_404(Payment, pk=payment_id, job__in=Job.objects.visible_to(person))
    job = _job(request, payment.job_id)
    form = PaymentBackForm(request.POST, prefix=_prefix(payment))
    if not form.is_valid():
        return _draw(request, job, back=(payment.pk, form))
    try:
        take_payment_back(payment_id=payment.pk, reason=form.cleaned_data["reason"], by=person, now=timezone.now())
    except JobError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"${payment.size_usd:,.2f} taken back, and the owner is told.")
    return redirect("estimates:price-detail", job_id=job.pk)


def _note(
    request: HttpRequest, job_id: int, form: PaymentForm, keep: Callable[..., Payment], done_words: str
) -> HttpResponse:
    """Keep money that came in or went back, or give the form back with what stands against it."""
    job = _job(request, job_id)
    if not form.is_valid():
        return _draw(request, job, payment=form)
    try:
        row = keep(job_id=job.pk, new=form.payment(), by=person_of(request), now=timezone.now())
    except JobError as refusal:
        form.add_error(PAYMENT_FIELDS.get(type(refusal)), str(refusal))
        return _draw(request, job, payment=form)
    messages.success(request, f"${row.size_usd:,.2f} {done_words}, and the owner is told.")
    return redirect("estimates:price-detail", job_id=job.pk)


def _prefix(payment: Payment) -> str:
    return f"back{payment.pk}"


def _job(request: HttpRequest, job_id: int) -> Job:
    return get_object_or_404(Job.objects.visible_to(person_of(request)).with_coach(), pk=job_id)


def _draw(
    request: HttpRequest,
    job: Job,
    *,
    term: TermForm | None = None,
    payment: PaymentForm | None = None,
    back: tuple[int, PaymentBackForm] | None = None,
) -> HttpResponse:
    """The page; a refused form comes back as it was filled in. payment: of money that came in, or of money back."""
    now = timezone.now()
    revision = job.revisions.order_by("number").last()
    paid = read_paid(job, revision)
    given = payment if isinstance(payment, GivenBackForm) else None
    taken = None if given else payment
    context = {
        "job": job,
        "shop": job.shop,
        "revision": revision,
        "sheet": read_sheet(revision) if revision else None,
        "terms": job.terms.standing().select_related("finding", "agreed_by"),
        "margin": read_margin(job, now),
        "outlook": None if job.collected_at or not is_shut(read_agreed_work([job.pk])[job.pk]) else hidden_damage(job),
        "form": term or TermForm(job=job),
        "paid": paid,
        "payment_rows": [_payment_row(each, back) for each in paid.payments],
        "payment_form": taken or PaymentForm(initial={"paid_on": job.shop.local_date(now)}),
        "given_form": given or _given_form(job, paid, now),
    }
    status = 422 if term or payment or back else 200
    return render(request, "estimates/price_detail.html", context, status=status)


def _given_form(job: Job, paid: Paid, now: datetime) -> GivenBackForm | None:
    """Filled in with what is to give back; None while that is nothing."""
    owed = next((each for each in paid.balances if each.refund_usd), None)
    if owed is None:
        return None
    today = job.shop.local_date(now)
    return GivenBackForm(initial={"paid_usd": owed.refund_usd, "paid_by": owed.payer, "paid_on": today})


def _payment_row(payment: Payment, back: tuple[int, PaymentBackForm] | None) -> tuple[Payment, PaymentBackForm | None]:
    """A payment with the form that takes it back, where it still can be."""
    if payment.takes_back_id or payment.taken_back:
        return payment, None
    if back and back[0] == payment.pk:
        return payment, back[1]
    return payment, PaymentBackForm(prefix=_prefix(payment))
