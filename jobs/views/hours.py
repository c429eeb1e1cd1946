"""Off the clock, clocked hours corrected, materials noted."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from jobs.errors import JobError
from jobs.forms import MaterialForm, SpanForm, new_key
from jobs.models import Operation, WorkSpan
from jobs.services import clock
from jobs.views.access import back_to, manager_required, person_of


@require_POST
def clock_off(request: HttpRequest) -> HttpResponse:
    """For lunch or the day; the work itself goes on."""
    try:
        span = clock.clock_off(person=person_of(request), now=timezone.now())
    except JobError as refusal:
        messages.error(request, str(refusal))
        return redirect("jobs:start")
    messages.success(request, f"Clocked off: {span.operation.words}. It stays open; join it when you are back.")
    return back_to(request, span.operation.job)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def span_mend(request: HttpRequest, span_id: int) -> HttpResponse:
    """Correct when somebody was on an operation. What stood there before stays in the journal."""
    person, now = person_of(request), timezone.now()
    spans = WorkSpan.objects.visible_to(person).select_related(
        "operation__job__shop", "operation__job__coach", "person"
    )
    span = get_object_or_404(spans, pk=span_id)
    job = span.operation.job
    form = SpanForm(request.POST if request.method == "POST" else None, span=span, now=now)
    if request.method == "POST" and form.is_valid():
        try:
            clock.mend_span(span_id=span.pk, **form.cleaned_data, by=person, now=now)
        except JobError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, "Corrected. The journal keeps what stood there before.")
            return HttpResponseRedirect(f"{reverse('shopfloor:job-detail', args=[job.pk])}#hours")
    context = {"span": span, "job": job, "shop": job.shop, "form": form}
    return render(request, "jobs/span_mend.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def material_note(request: HttpRequest, operation_id: int) -> HttpResponse:
    """What an operation really took."""
    person = person_of(request)
    operations = Operation.objects.visible_to(person).select_related("job__shop", "job__coach")
    operation = get_object_or_404(operations, pk=operation_id)
    form = MaterialForm(request.POST if request.method == "POST" else None, initial={"key": new_key()})
    if request.method == "POST" and form.is_valid():
        try:
            use = clock.note_material(operation_id=operation.pk, **form.cleaned_data, by=person, now=timezone.now())
        except JobError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"Noted: {use}.")
            return redirect("jobs:material-note", operation_id=operation.pk)
    context = {
        "operation": operation,
        "job": operation.job,
        "shop": operation.job.shop,
        "used": operation.materials_used.select_related("noted_by"),
        "form": form,
    }
    return render(request, "jobs/material_note.html", context, status=422 if form.errors else 200)
