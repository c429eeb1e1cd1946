"""The price of a job: its lines, who pays what, what is agreed beside the work."""

from django.contrib import messages
from django.db.models import prefetch_related_objects
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from estimates.forms import TermForm
from estimates.margin import read_margin
from estimates.models import Term
from estimates.outlook import hidden_damage, is_shut
from estimates.services.terms import TooMuchPaid, agree_term, take_term_back
from estimates.sheet import read_sheet
from jobs.errors import JobError
from jobs.models import Job
from jobs.views.access import manager_required, person_of


@require_safe
@manager_required
def price_detail(request: HttpRequest, job_id: int) -> HttpResponse:
    return _draw(request, _job(request, job_id), None)


@require_POST
@manager_required
def term_agree(request: HttpRequest, job_id: int) -> HttpResponse:
    job = _job(request, job_id)
    form = TermForm(request.POST, job=job)
    if not form.is_valid():
        return _draw(request, job, form)
    try:
        revision = agree_term(job_id=job.pk, new=form.term(), by=person_of(request), now=timezone.now())
    except JobError as refusal:
        form.add_error("amount_usd" if isinstance(refusal, TooMuchPaid) else None, str(refusal))
        return _draw(request, job, form)
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


def _job(request: HttpRequest, job_id: int) -> Job:
    return get_object_or_404(Job.objects.visible_to(person_of(request)).with_coach(), pk=job_id)


def _draw(request: HttpRequest, job: Job, form: TermForm | None) -> HttpResponse:
    """The page; a refused form comes back as it was filled in."""
    revision = job.revisions.order_by("number").last()
    prefetch_related_objects([job], "operations__remedy__finding")
    context = {
        "job": job,
        "shop": job.shop,
        "revision": revision,
        "sheet": read_sheet(revision) if revision else None,
        "terms": job.terms.standing().select_related("finding", "agreed_by"),
        "margin": read_margin(job, timezone.now()),
        "outlook": hidden_damage(job) if is_shut(job) else None,
        "form": form or TermForm(job=job),
    }
    return render(request, "estimates/price_detail.html", context, status=422 if form else 200)
