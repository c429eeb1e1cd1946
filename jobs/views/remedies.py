"""Which remedies fit, while a finding is written; and changing them while the owner has not answered."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe
from django.views.decorators.vary import vary_on_headers

from jobs.calc.leaving import left_words
from jobs.errors import AlreadyDecided, JobError, NotNow, Stale
from jobs.forms import AdjustForm, FindingForm
from jobs.models import Finding, Job
from jobs.services.remedies import adjust_remedies, remedies_version, why_not_adjust
from jobs.views.access import person_of
from jobs.views.rows import finding_rows
from shopfloor.htmx import wants_partial


@require_safe
@vary_on_headers("HX-Request")
def fits_show(request: HttpRequest, job_id: int) -> HttpResponse:
    """The remedies that fit what stands in the form so far; a part of that page alone."""
    job = get_object_or_404(Job.objects.visible_to(person_of(request)).with_coach(), pk=job_id)
    if not wants_partial(request):
        return redirect("jobs:finding-post", job_id=job.pk)
    form = FindingForm(request.GET, job=job)
    form.is_valid()
    form.forgive(())
    unread = [(form[name].label, errors[0]) for name, errors in form.errors.items()]
    return render(request, "jobs/_fits.html", {"form": form, "fits": form.fits(), "unread": unread})


@require_http_methods(["GET", "HEAD", "POST"])
def remedies_adjust(request: HttpRequest, finding_id: int) -> HttpResponse:
    """Drop, add, reorder or rewrite the remedies of a finding that the owner has not answered about."""
    person = person_of(request)
    findings = Finding.objects.visible_to(person).for_page().prefetch_related("offers", "remedies__own_skill")
    finding = get_object_or_404(findings, pk=finding_id)
    if request.method != "POST":
        return _draw(request, finding, AdjustForm(finding=finding))
    form = AdjustForm(request.POST, finding=finding)
    if not form.is_valid():
        return _draw(request, finding, form, status=422)
    try:
        adjust_remedies(
            finding_id=finding.pk,
            ways=form.ways(),
            seen_version=form.cleaned_data["seen"],
            reason=form.cleaned_data["reason"],
            by=person,
            now=timezone.now(),
        )
    except (AlreadyDecided, Stale, NotNow) as refusal:
        return _draw(request, finding, form, status=409, refusal=str(refusal))
    except JobError as refusal:
        form.add_error(None, str(refusal))
        return _draw(request, finding, form, status=422)
    messages.success(request, "Changed. Price and days are being worked out, and the owner is told why.")
    return redirect("jobs:finding-detail", finding_id=finding.pk)


def _draw(
    request: HttpRequest, finding: Finding, form: AdjustForm, *, status: int = 200, refusal: str = ""
) -> HttpResponse:
    """The page with what was typed. A form that was overtaken goes on from what stands now."""
    if status == 409:
        data = request.POST.copy()
        data["seen"] = str(remedies_version(finding))
        form = AdjustForm(data, finding=finding)
    row = finding_rows(finding.job, [finding])[0]
    context = {
        "finding": finding,
        "row": row,
        "trouble": row.price_trouble,
        "job": finding.job,
        "shop": finding.job.shop,
        "form": form,
        "left_words": left_words(finding.kind),
        "closed": why_not_adjust(finding, person_of(request)),
        "refusal": refusal,
    }
    return render(request, "jobs/remedies_adjust.html", context, status=status)
