"""A coach's page, and moving the coach."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe
from django.views.decorators.vary import vary_on_headers

from jobs.body_plan import draw_plan
from jobs.drying_sheet import drying_summary
from jobs.errors import JobError
from jobs.forms import HoldPointFailForm, HoldPointPassForm, MoveForm
from jobs.models import Finding, HoldPoint, Job, Operation, Person
from jobs.services import booking
from jobs.services.framing import framing_lines
from jobs.stages import stage_for
from jobs.views.access import back_to, manager_required, person_of
from jobs.views.rows import FindingRow, caution_rows, finding_rows, phase_rows
from shopfloor.htmx import wants_partial

CheckForm = HoldPointPassForm | HoldPointFailForm


@require_safe
@vary_on_headers("HX-Request")
def job_detail(request: HttpRequest, job_id: int) -> HttpResponse:
    return _draw_findings(request, job_id) if wants_partial(request) else draw_job(request, job_id)


@require_POST
def check_in(request: HttpRequest, job_id: int) -> HttpResponse:
    person = person_of(request)
    job = get_object_or_404(Job.objects.visible_to(person), pk=job_id)
    act(request, "Checked in.", lambda: booking.check_in(job_id=job.pk, by=person, now=timezone.now()))
    return back_to(request, job)


@require_POST
def move_to_bay(request: HttpRequest, job_id: int) -> HttpResponse:
    person = person_of(request)
    job = get_object_or_404(Job.objects.visible_to(person).with_coach(), pk=job_id)
    form = MoveForm(request.POST, shop=job.shop)
    if not form.is_valid():
        return draw_job(request, job_id, move_form=form, status=422)
    bay = form.cleaned_data["bay"]
    act(request, f"Now in {bay}.", lambda: booking.move_to_bay(job_id=job.pk, bay=bay, by=person, now=timezone.now()))
    return back_to(request, job)


@require_POST
def leave_bay(request: HttpRequest, job_id: int) -> HttpResponse:
    person = person_of(request)
    job = get_object_or_404(Job.objects.visible_to(person), pk=job_id)
    act(request, "Out of its bay.", lambda: booking.leave_bay(job_id=job.pk, by=person, now=timezone.now()))
    return back_to(request, job)


@require_POST
@manager_required
def collect(request: HttpRequest, job_id: int) -> HttpResponse:
    person = person_of(request)
    job = get_object_or_404(Job.objects.visible_to(person), pk=job_id)
    act(
        request,
        "Handed back to its owner.",
        lambda: booking.collect_coach(job_id=job.pk, by=person, now=timezone.now()),
    )
    return back_to(request, job)


def act(request: HttpRequest, done: str, service: Callable[[], object]) -> None:
    """Do one thing and say so, or say in the service's own words why not."""
    try:
        service()
    except JobError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, done)


def draw_job(
    request: HttpRequest,
    job_id: int,
    *,
    move_form: MoveForm | None = None,
    refused_check: CheckForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The coach's page; a refused form comes back as it was filled in."""
    person = person_of(request)
    job = get_object_or_404(Job.objects.visible_to(person).with_coach(), pk=job_id)
    context = _rows(job, person, refused_check) | {
        "move_form": move_form or MoveForm(shop=job.shop),
        "framing": framing_lines(job.coach, job.shop.units),
    }
    return render(request, "jobs/job_detail.html", context, status=status)


def _draw_findings(request: HttpRequest, job_id: int) -> HttpResponse:
    """The list of findings alone, which renews itself while the worker is busy with one of them."""
    person = person_of(request)
    job = get_object_or_404(Job.objects.visible_to(person), pk=job_id)
    rows = finding_rows(job, _findings_of(job, person))
    return render(request, "jobs/_finding_rows.html", {"job": job} | _list_of(rows))


def _findings_of(job: Job, person: Person) -> list[Finding]:
    return list(Finding.objects.visible_to(person).filter(job=job).for_page().order_by("-number"))


def _list_of(rows: list[FindingRow]) -> dict[str, Any]:
    return {"findings": rows, "is_settling": any(row.is_settling for row in rows)}


def _rows(job: Job, person: Person, refused_check: CheckForm | None) -> dict[str, Any]:
    findings = _findings_of(job, person)
    operations = list(
        job.operations.select_related("hold_point__checked_by", "skill", "remedy__standard").prefetch_related(
            "workers", "spans__person", "materials_used"
        )
    )
    phases = phase_rows(operations, job.findings.undecided().first(), person)
    at_hand, later = caution_rows(phases, findings)
    marks = [(each, reverse("jobs:finding-detail", args=[each.pk])) for each in reversed(findings)]
    return _list_of(finding_rows(job, findings)) | {
        "job": job,
        "shop": job.shop,
        "stage": stage_for(job),
        "drying": drying_summary(job),
        "plan": draw_plan(job.coach, marks),
        "phases": phases,
        "checks": _checks(operations, refused_check) if person.is_manager else [],
        "waiting_checks": [check for check in map(_hold_point, operations) if check and _is_due(check)],
        "cautions": at_hand,
        "later_cautions": later,
        "is_at_shop": job.arrived_at is not None and job.collected_at is None,
    }


def _checks(operations: list[Operation], refused: CheckForm | None) -> list[tuple[HoldPoint, CheckForm, CheckForm]]:
    """The hold points a manager can sign off now, each with its two forms."""
    due = [check for check in map(_hold_point, operations) if check and _is_due(check)]
    kept = {refused.prefix: refused} if refused else {}
    forms = [(check, pass_form(check), fail_form(check)) for check in due]
    return [(check, kept.get(yes.prefix, yes), kept.get(no.prefix, no)) for check, yes, no in forms]


def pass_form(check: HoldPoint, data: Any = None) -> HoldPointPassForm:
    return HoldPointPassForm(data, prefix=f"pass-{check.pk}")


def fail_form(check: HoldPoint, data: Any = None) -> HoldPointFailForm:
    return HoldPointFailForm(data, prefix=f"fail-{check.pk}")


def _hold_point(operation: Operation) -> HoldPoint | None:
    return getattr(operation, "hold_point", None)


def _is_due(check: HoldPoint) -> bool:
    return check.passed_at is None and check.failed_at is None and check.operation.finished_at is not None
