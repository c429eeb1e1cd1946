"""A job as the manager sees it: its head, its owner, its scope, its journal."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from estimates.equipment import equipment_of, short_work
from estimates.job_hours import read_job_hours
from estimates.job_plan import read_coach_plan
from estimates.pausing import pausing_work
from jobs.calc.days import long_day
from jobs.errors import AlreadyDecided, JobError, Stale
from jobs.forms import MoveForm
from jobs.journal import first_break
from jobs.models import ApprovalRequest, Job, Owner, Remedy
from jobs.services import booking
from jobs.services.approvals import Answer, chosen_remedy, record_decision
from jobs.stages import progress_of
from jobs.views.access import manager_required, person_of
from shopfloor.access import shop_of
from shopfloor.board.lines import forecast_of
from shopfloor.forms import PromiseForm, SpokenAnswerForm, TurnForm
from shopfloor.job_sheet import JobSheet, read_job_sheet
from shopfloor.journal_words import kind_words, particulars
from updates.links import withdraw_links

ENTRIES_A_PAGE = 50


@require_safe
@manager_required
def job_list(request: HttpRequest) -> HttpResponse:
    """Open jobs, or those that match what is looked for, collected ones too."""
    wanted = request.GET.get("q", "").strip()
    jobs = Job.objects.visible_to(person_of(request))
    jobs = jobs.filter(_matches(wanted)).distinct() if wanted else jobs.open()
    rows = jobs.with_coach().select_related("forecast").prefetch_related("promises", "coach__ownerships__owner")
    page = Paginator(rows.order_by("-number"), 50).get_page(request.GET.get("page"))
    shop, progress = shop_of(request), progress_of(page)
    lines = [(job, progress[job.pk].stage, forecast_of(job), progress[job.pk].ready_on(shop)) for job in page]
    context = {"lines": lines, "page": page, "wanted": wanted, "shop": shop}
    return render(request, "shopfloor/job_list.html", context)


@require_safe
@manager_required
def job_detail(request: HttpRequest, job_id: int) -> HttpResponse:
    return _draw(request, _job(request, job_id))


@require_POST
@manager_required
def date_promise(request: HttpRequest, job_id: int) -> HttpResponse:
    job = _job(request, job_id)
    form = PromiseForm(request.POST, job=job)
    if not form.is_valid():
        return _draw(request, job, promise_form=form, status=422)
    forecast = forecast_of(job)
    try:
        promise = booking.promise_date(
            job=job,
            ready_on=form.cleaned_data["ready_on"],
            expected_on=forecast.expected_on if forecast else None,
            reason=form.cleaned_data.get("reason", ""),
            by=person_of(request),
            now=timezone.now(),
        )
    except JobError as refusal:
        form.add_error("ready_on", str(refusal))
        return _draw(request, job, promise_form=form, status=422)
    promised_for = long_day(promise.ready_on, job.shop.local_date(promise.promised_at))
    messages.success(request, f"Promised for {promised_for}. The owner is told.")
    return redirect("shopfloor:job-detail", job_id=job.pk)


@require_POST
@manager_required
def priority_set(request: HttpRequest, job_id: int) -> HttpResponse:
    job = _job(request, job_id)
    form = TurnForm(request.POST)
    if not form.is_valid():
        return _draw(request, job, refusal=str(form.errors["priority"][0]), status=422)
    turn = form.cleaned_data["priority"]
    try:
        booking.set_priority(job_id=job.pk, priority=turn, by=person_of(request), now=timezone.now())
    except JobError as refusal:
        return _draw(request, job, refusal=str(refusal), status=409)
    messages.success(request, f"Job {job.number} has turn {turn} now. The plan follows.")
    return redirect("shopfloor:job-detail", job_id=job.pk)


@require_POST
@manager_required
def decision_record(request: HttpRequest, request_id: int) -> HttpResponse:
    """Write down what an owner said by phone or in person."""
    asked = get_object_or_404(
        ApprovalRequest.objects.select_related("finding"), pk=request_id, finding__job__shop=shop_of(request)
    )
    job = _job(request, asked.finding.job_id)
    form = SpokenAnswerForm(request.POST, job=job, remedies=_remedies(asked), prefix=f"answer{asked.pk}")
    if not form.is_valid():
        return _draw(request, job, answer=(asked.pk, form), status=422)
    given = form.cleaned_data
    remedy = chosen_remedy(asked, form.remedy_id())
    answer = Answer(remedy, given["typed_name"], given["owner"], given["channel"], phone=given["phone"])
    try:
        record_decision(
            request_id=asked.pk,
            seen_sha256=given["seen_sha256"],
            answer=answer,
            by=person_of(request),
            now=timezone.now(),
        )
    except (Stale, AlreadyDecided) as refusal:
        return _draw(request, job, refusal=str(refusal), status=409)
    except JobError as refusal:
        form.add_error(None, str(refusal))
        return _draw(request, job, answer=(asked.pk, form), status=422)
    messages.success(request, f"The answer to finding {asked.finding.number} is kept.")
    return redirect("shopfloor:job-detail", job_id=job.pk)


@require_POST
@manager_required
def links_withdraw(request: HttpRequest, job_id: int, owner_id: int) -> HttpResponse:
    job = _job(request, job_id)
    owner = get_object_or_404(Owner, pk=owner_id, ownerships__coach=job.coach)
    closed = withdraw_links(job=job, owner=owner, by=person_of(request), now=timezone.now())
    messages.success(request, f"{closed} {'link' if closed == 1 else 'links'} of {owner} closed.")
    return redirect("shopfloor:job-detail", job_id=job.pk)


def _matches(wanted: str) -> Q:
    named = (
        Q(coach__make__icontains=wanted) | Q(coach__model__icontains=wanted) | Q(coach__owners__name__icontains=wanted)
    )
    # A number too long for the column is looked for as a name and found as nothing.
    return named | Q(number=int(wanted)) if wanted.isdecimal() and len(wanted) < 9 else named


def _job(request: HttpRequest, job_id: int) -> Job:
    jobs = Job.objects.visible_to(person_of(request)).with_coach().select_related("forecast")
    return get_object_or_404(jobs, pk=job_id)


def _draw(
    request: HttpRequest,
    job: Job,
    *,
    promise_form: PromiseForm | None = None,
    answer: tuple[int, SpokenAnswerForm] | None = None,
    refusal: str = "",
    status: int = 200,
) -> HttpResponse:
    """The page of a job, with the form that was refused in its place."""
    now = timezone.now()
    sheet = read_job_sheet(job.pk, now)
    has = equipment_of(sheet.job.shop_id)
    context = {
        "sheet": sheet,
        "job": sheet.job,
        "shop": sheet.job.shop,
        "refusal": refusal,
        "promise_form": promise_form or _blank_promise(sheet),
        "move_form": MoveForm(shop=sheet.job.shop),
        "questions": [(line, _question_form(sheet, line.row.request, answer)) for line in sheet.questions],
        "hours": read_job_hours(sheet.job, now),
        "plan_of_coach": read_coach_plan(sheet.job, has),
        "pausing": pausing_work(sheet.job.shop, sheet.job.shop.calendar(), now, sheet.job),
        "short": list(short_work([sheet.job], has)),
        **_journal(request, sheet.job),
    }
    return render(request, "shopfloor/job_detail.html", context, status=status)


def _blank_promise(sheet: JobSheet) -> PromiseForm:
    return PromiseForm(job=sheet.job, initial={"ready_on": sheet.to_promise_on})


def _question_form(
    sheet: JobSheet, asked: ApprovalRequest | None, refused: tuple[int, SpokenAnswerForm] | None
) -> SpokenAnswerForm:
    if asked is None:
        raise ValueError("an open question has a request")
    if refused and refused[0] == asked.pk:
        return refused[1]
    initial = {"seen_sha256": asked.offer_sha256}
    return SpokenAnswerForm(job=sheet.job, remedies=_remedies(asked), prefix=f"answer{asked.pk}", initial=initial)


def _remedies(asked: ApprovalRequest) -> list[Remedy]:
    return list(asked.choices.select_related("standard"))


def _journal(request: HttpRequest, job: Job) -> dict[str, Any]:
    page = Paginator(job.entries.order_by("-number"), ENTRIES_A_PAGE).get_page(request.GET.get("page"))
    return {
        "page": page,
        "entries": [(entry, kind_words(entry), particulars(entry)) for entry in page],
        "broken": first_break(job),
    }
