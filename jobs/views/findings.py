"""Posting a finding, and reading it again."""

import uuid
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django.views.decorators.vary import vary_on_headers

from jobs import held
from jobs.body_plan import draw_plan
from jobs.calc.leaving import left_words
from jobs.calc.moisture.verdict import VERDICT_WORDS, Verdict
from jobs.errors import JobError
from jobs.forms import EvidenceForm, FindingForm, OwnVerdictForm, PhotosForm, new_key
from jobs.models import Finding, Job, Person, Station
from jobs.services.drying import limits_of, moisture_of
from jobs.services.findings import add_photos, post_finding
from jobs.services.remedies import why_not_adjust
from jobs.services.verdicts import (
    cautions_at,
    is_probe_stale,
    judge_finding,
    newer_readings,
    note_evidence,
    overrule_verdict,
    read_stations,
    remaining_of,
    stations_at,
)
from jobs.views.access import person_of
from jobs.views.rows import cautions, finding_rows
from shopfloor.htmx import wants_partial


@require_http_methods(["GET", "HEAD", "POST"])
def finding_post(request: HttpRequest, job_id: int) -> HttpResponse:
    """The form of a new finding. What is sent twice under one key is stored once."""
    person = person_of(request)
    job = get_object_or_404(Job.objects.visible_to(person).with_coach(), pk=job_id)
    if request.method != "POST":
        return _draw_form(request, job, FindingForm(job=job, initial={"key": new_key()}))
    key = _key_of(request.POST.get("key", ""))
    if key is None:
        return _refuse_key(request, job)
    if stored := Finding.objects.visible_to(person).filter(job=job, key=key).first():
        messages.info(request, f"This was already posted: it is finding {stored.number}.")
        return redirect("jobs:finding-detail", finding_id=stored.pk)
    form = FindingForm(request.POST, request.FILES, job=job, held_photos=held.read(person_id=person.pk, key=key))
    is_look = "see_fits" in request.POST
    finding = _post(form, key, person) if form.is_valid() and not is_look else None
    if finding is None:
        held.hold(person_id=person.pk, key=key, uploads=form.accepted, now=timezone.now())
        form.held_photos = form.accepted
        if is_look and form.forgive({"camera", "album"}):
            return _draw_form(request, job, form)
        return _draw_form(request, job, form, status=422)
    held.drop(person_id=person.pk, key=key)
    messages.success(request, f"Finding {finding.number} is posted.")
    return redirect("jobs:finding-detail", finding_id=finding.pk)


@require_safe
@vary_on_headers("HX-Request")
def finding_detail(request: HttpRequest, finding_id: int) -> HttpResponse:
    finding = _finding_of(person_of(request), finding_id)
    if wants_partial(request):
        return render(request, "jobs/_finding_detail.html", _detail(finding, person_of(request)) | {"is_part": True})
    return _draw_detail(request, finding)


@require_POST
def finding_photos(request: HttpRequest, finding_id: int) -> HttpResponse:
    """More photos for a finding; one that is there already is not stored again."""
    person = person_of(request)
    finding = _finding_of(person, finding_id)
    form = PhotosForm(request.POST, request.FILES)
    if not form.is_valid():
        return _draw_detail(request, finding, photos_form=form)
    added = add_photos(finding_id=finding.pk, uploads=form.accepted, by=person, now=timezone.now())
    said = f"{added} photo{'' if added == 1 else 's'} added." if added else "These photos were here already."
    messages.success(request, said)
    return redirect("jobs:finding-detail", finding_id=finding.pk)


@require_http_methods(["GET", "HEAD", "POST"])
def evidence_note(request: HttpRequest, finding_id: int) -> HttpResponse:
    """The evidence as it is known now; the verdict follows from it."""
    person = person_of(request)
    finding = _finding_of(person, finding_id)
    stations = read_stations(finding.job)
    form = EvidenceForm(
        request.POST if request.method == "POST" else None,
        finding=finding,
        is_read=bool(newer_readings(finding, stations)),
        is_probe_stale=is_probe_stale(finding, stations, limits_of(finding.job.shop)),
    )
    if request.method == "POST" and form.is_valid():
        try:
            noted = note_evidence(finding_id=finding.pk, evidence=form.evidence(), by=person, now=timezone.now())
        except JobError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"Noted. The evidence says: {VERDICT_WORDS[Verdict(noted.verdict)]}.")
            return redirect("jobs:finding-detail", finding_id=finding.pk)
    context = {"finding": finding, "job": finding.job, "shop": finding.job.shop, "form": form}
    return render(request, "jobs/evidence_note.html", context, status=422 if form.errors else 200)


@require_POST
def verdict_overrule(request: HttpRequest, finding_id: int) -> HttpResponse:
    """A person's own verdict, with a reason; or back to the computed one."""
    person = person_of(request)
    finding = _finding_of(person, finding_id)
    form = OwnVerdictForm(request.POST)
    if not form.is_valid():
        return _draw_detail(request, finding, verdict_form=form)
    try:
        overrule_verdict(finding_id=finding.pk, **form.cleaned_data, by=person, now=timezone.now())
    except JobError as refusal:
        form.add_error(None, str(refusal))
        return _draw_detail(request, finding, verdict_form=form)
    messages.success(
        request, "Your verdict stands, with your reason." if form.cleaned_data["verdict"] else "Taken back."
    )
    return redirect("jobs:finding-detail", finding_id=finding.pk)


def _draw_detail(
    request: HttpRequest,
    finding: Finding,
    *,
    photos_form: PhotosForm | None = None,
    verdict_form: OwnVerdictForm | None = None,
) -> HttpResponse:
    """The whole page; a refused form comes back as it was filled in."""
    context = (
        _detail(finding, person_of(request))
        | _verdict(finding)
        | {
            "photos_form": photos_form or PhotosForm(),
            "verdict_form": verdict_form or OwnVerdictForm(initial={"verdict": finding.own_verdict}),
        }
    )
    return render(request, "jobs/finding_detail.html", context, status=422 if photos_form or verdict_form else 200)


def _post(form: FindingForm, key: uuid.UUID, person: Person) -> Finding | None:
    """Store what the form holds; a refusal becomes the form's error."""
    cleaned = form.cleaned_data
    try:
        return post_finding(
            job_id=form.job.pk,
            key=key,
            kind=cleaned["kind"],
            place=form.place(),
            seen=cleaned["seen"],
            evidence=form.evidence(),
            remedy=form.chosen_remedy(),
            beside=form.picked_remedies(),
            uploads=form.accepted,
            is_unsafe_to_leave=cleaned["is_unsafe_to_leave"],
            by=person,
            now=timezone.now(),
        )
    except JobError as refusal:
        form.add_error(None, str(refusal))
        return None


def _refuse_key(request: HttpRequest, job: Job) -> HttpResponse:
    """A form without its mark could be stored twice, so it is drawn again with a new one."""
    form = FindingForm(request.POST.copy() | {"key": str(new_key())}, request.FILES, job=job)
    form.is_valid()
    form.add_error(
        None, "The page was damaged on its way and has been mended. Please choose the photos and send again."
    )
    return _draw_form(request, job, form, status=422)


def _draw_form(request: HttpRequest, job: Job, form: FindingForm, *, status: int = 200) -> HttpResponse:
    marked = [(finding, None) for finding in job.findings.all()]
    with_caution = job.shop.standard_remedies.filter(is_active=True).exclude(caution="")
    context = {
        "job": job,
        "shop": job.shop,
        "form": form,
        "plan": draw_plan(job.coach, marked),
        "is_at_shop": job.arrived_at is not None and job.collected_at is None,
        "remedies_with_caution": with_caution,
        "fits": form.fits(),
    }
    return render(request, "jobs/finding_post.html", context, status=status)


def _finding_of(person: Person, finding_id: int) -> Finding:
    # Offers belong to estimates, which jobs does not know: by their name they are only made ready to print.
    findings = Finding.objects.visible_to(person).for_page().prefetch_related("offers", "remedies__own_skill")
    return get_object_or_404(findings, pk=finding_id)


def _detail(finding: Finding, person: Person) -> dict[str, Any]:
    row = finding_rows(finding.job, [finding])[0]
    return {
        "finding": finding,
        "row": row,
        "trouble": row.price_trouble,
        "job": finding.job,
        "shop": finding.job.shop,
        "plan": draw_plan(finding.job.coach, [(finding, None)]),
        "left_words": left_words(finding.kind),
        "closed": why_not_adjust(finding, person),
        "cautions": cautions(finding.standing_remedies),
    }


def _verdict(finding: Finding) -> dict[str, Any]:
    """What the evidence says, why, and what can hurt somebody here."""
    limits = limits_of(finding.job.shop)
    stations = read_stations(finding.job)
    judgement = judge_finding(finding, stations, limits)
    return {
        "judgement": judgement,
        "computed_words": VERDICT_WORDS[judgement.verdict],
        "here": _station_lines(stations_at(finding, stations)),
        "is_probe_stale": is_probe_stale(finding, stations, limits),
        "remaining": remaining_of(finding),
        "evidence_cautions": cautions_at(finding, {judgement.verdict, finding.standing_verdict}),
    }


def _station_lines(stations: Iterable[Station]) -> list[tuple[Station, str, datetime, str]]:
    """Each station: number, its latest reading corrected, when, and what to do where it does not dry."""
    lines = []
    for station in stations:
        latest = list(station.readings.all())[-1]
        forecast = getattr(station, "forecast", None)
        trouble = forecast.reason if forecast and forecast.needs_a_hand else ""
        moisture_pct = moisture_of(latest)
        shown = str(latest) if moisture_pct is None else f"{moisture_pct:.1f} %"
        lines.append((station, shown, latest.round.taken_at, trouble))
    return lines


def _key_of(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None
