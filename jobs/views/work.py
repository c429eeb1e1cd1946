"""Starting and finishing work, and signing it off."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_POST

from jobs.models import HoldPoint, Operation, Person, WorkSpan
from jobs.services import work
from jobs.views.access import back_to, manager_required, person_of
from jobs.views.jobs import act, draw_job, fail_form, pass_form


@require_POST
def operation_start(request: HttpRequest, operation_id: int) -> HttpResponse:
    person = person_of(request)
    operation = get_object_or_404(Operation.objects.visible_to(person).select_related("job"), pk=operation_id)
    now = timezone.now()
    act(
        request,
        f"{'Joined' if operation.started_at else 'Started'}: {operation.words}.",
        lambda: work.start_operation(operation_id=operation.pk, by=person, now=now),
    )
    for left in WorkSpan.objects.clocked_off_at(person, now).select_related("operation__job"):
        # One thing at a time: what the start ended is said, so that nobody is surprised by it.
        messages.info(request, f"You are off the clock on “{left.operation.words}” (job {left.operation.job.number}).")
    return back_to(request, operation.job)


@require_POST
def operation_finish(request: HttpRequest, operation_id: int) -> HttpResponse:
    person = person_of(request)
    operation = get_object_or_404(Operation.objects.visible_to(person).select_related("job"), pk=operation_id)
    act(
        request,
        f"Finished: {operation.words}.",
        lambda: work.finish_operation(operation_id=operation.pk, by=person, now=timezone.now()),
    )
    return back_to(request, operation.job)


@require_POST
@manager_required
def hold_point_pass(request: HttpRequest, hold_point_id: int) -> HttpResponse:
    person = person_of(request)
    check = _check_of(person, hold_point_id)
    form = pass_form(check, request.POST)
    if not form.is_valid():
        return draw_job(request, check.operation.job_id, refused_check=form, status=422)
    note = form.cleaned_data["note"]
    act(
        request,
        f"Signed off: {check.words}.",
        lambda: work.pass_hold_point(hold_point_id=check.pk, note=note, by=person, now=timezone.now()),
    )
    return back_to(request, check.operation.job)


@require_POST
@manager_required
def hold_point_fail(request: HttpRequest, hold_point_id: int) -> HttpResponse:
    person = person_of(request)
    check = _check_of(person, hold_point_id)
    form = fail_form(check, request.POST)
    if not form.is_valid():
        return draw_job(request, check.operation.job_id, refused_check=form, status=422)
    note, redo_hours = form.cleaned_data["note"], form.cleaned_data["redo_hours"]
    act(
        request,
        f"Not passed: {check.words}. The work is on the list again.",
        lambda: work.fail_hold_point(
            hold_point_id=check.pk, note=note, redo_hours=redo_hours, by=person, now=timezone.now()
        ),
    )
    return back_to(request, check.operation.job)


def _check_of(person: Person, hold_point_id: int) -> HoldPoint:
    checks = HoldPoint.objects.select_related("operation__job")
    return get_object_or_404(checks, pk=hold_point_id, operation__in=Operation.objects.visible_to(person))
