"""Marking stations, walking a round, logging equipment, setting the shop's limits."""

import math
import uuid
from dataclasses import asdict

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from jobs.body_plan import draw_plan
from jobs.errors import JobError
from jobs.forms import AltitudeForm, LimitsForm, PlacementForm, RetireForm, RoundForm, StationForm, StrikeForm, new_key
from jobs.models import Job, Placement, Reading, ReadingRound, Station
from jobs.services import moisture
from jobs.services.drying import limits_of
from jobs.views.access import manager_required, person_of
from jobs.views.drying import draw_drying
from jobs.views.jobs import act


@require_http_methods(["GET", "HEAD", "POST"])
def station_mark(request: HttpRequest, job_id: int) -> HttpResponse:
    """Mark a spot to be read again and again."""
    person = person_of(request)
    job = get_object_or_404(Job.objects.visible_to(person).with_coach(), pk=job_id)
    form = StationForm(request.POST if request.method == "POST" else None, job=job, initial={"key": new_key()})
    if request.method == "POST" and form.is_valid():
        cleaned = form.cleaned_data
        try:
            station = moisture.mark_station(
                job_id=job.pk,
                key=cleaned["key"],
                face=cleaned["face"],
                left_mm=cleaned["left"],
                top_mm=cleaned["top"],
                layer=cleaned["layer"],
                material=cleaned["material"],
                note=cleaned["note"],
                by=person,
                now=timezone.now(),
            )
        except JobError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"This is station {station.number}. Write {station.number} on the spot.")
            return redirect("jobs:station-mark" if "again" in request.POST else "jobs:drying-detail", job_id=job.pk)
    stations = list(job.stations.in_use())
    context = {"job": job, "shop": job.shop, "form": form, "plan": draw_plan(job.coach, [], stations)}
    return render(request, "jobs/station_mark.html", context, status=422 if form.errors else 200)


@require_POST
def station_retire(request: HttpRequest, station_id: int) -> HttpResponse:
    person = person_of(request)
    station = get_object_or_404(Station.objects.visible_to(person), pk=station_id)
    form = RetireForm(request.POST)
    if not form.is_valid():
        return draw_drying(request, station.job_id, refused=(station.pk, form), status=422)
    because = form.cleaned_data["because"]
    moisture.retire_station(station_id=station.pk, because=because, by=person, now=timezone.now())
    messages.success(request, f"Station {station.number} is no longer read. Its readings are kept.")
    return redirect("jobs:drying-detail", job_id=station.job_id)


@require_POST
def station_restore(request: HttpRequest, station_id: int) -> HttpResponse:
    person = person_of(request)
    station = get_object_or_404(Station.objects.visible_to(person), pk=station_id)
    moisture.restore_station(station_id=station.pk, by=person, now=timezone.now())
    messages.success(request, f"Station {station.number} is read again.")
    return redirect("jobs:drying-detail", job_id=station.job_id)


@require_http_methods(["GET", "HEAD", "POST"])
def reading_strike(request: HttpRequest, reading_id: int) -> HttpResponse:
    """Strike out a reading that was a slip. It stays on record, with the reason."""
    person = person_of(request)
    readings = Reading.objects.visible_to(person).standing().select_related("round", "station__job__shop")
    reading = get_object_or_404(readings, pk=reading_id)
    form = StrikeForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        moisture.strike_reading(
            reading_id=reading.pk, reason=form.cleaned_data["reason"], by=person, now=timezone.now()
        )
        messages.success(request, "Struck out. Drying is being worked out without it.")
        return redirect("jobs:drying-detail", job_id=reading.station.job_id)
    job = reading.station.job
    context = {"reading": reading, "job": job, "shop": job.shop, "form": form}
    return render(request, "jobs/reading_strike.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def round_take(request: HttpRequest, job_id: int) -> HttpResponse:
    """One walk round the stations. What is sent twice under one key is stored once."""
    person = person_of(request)
    job = get_object_or_404(Job.objects.visible_to(person).with_coach(), pk=job_id)
    if request.method == "POST" and (stored := _stored_round(job, request.POST.get("key", ""))):
        if _says_the_same(stored, request.POST):
            messages.info(request, "This round was already stored.")
            return redirect("jobs:drying-detail", job_id=job.pk)
        return _refuse_second(request, job)
    form = RoundForm(
        request.POST if request.method == "POST" else None,
        job=job,
        stations=list(job.stations.in_use().with_readings()),
        now=timezone.now(),
        initial={"key": new_key()},
    )
    if request.method == "POST" and form.is_valid() and _store_round(request, form, job):
        return redirect("jobs:drying-detail", job_id=job.pk)
    # By these the phone tells a round that it still keeps from one that has come through.
    stored_keys = " ".join(str(key) for key in job.rounds.order_by("-pk").values_list("key", flat=True)[:20])
    context = {"job": job, "shop": job.shop, "form": form, "rows": form.rows(), "stored_keys": stored_keys}
    return render(request, "jobs/round_take.html", context, status=422 if form.errors else 200)


@require_POST
def equipment_place(request: HttpRequest, job_id: int) -> HttpResponse:
    person = person_of(request)
    job = get_object_or_404(Job.objects.visible_to(person), pk=job_id)
    form = PlacementForm(request.POST)
    if not form.is_valid():
        return draw_drying(request, job_id, placement_form=form, status=422)
    act(
        request,
        "Noted.",
        lambda: moisture.place_equipment(job_id=job.pk, **form.cleaned_data, by=person, now=timezone.now()),
    )
    return _to_equipment(job.pk)


@require_POST
def equipment_take_away(request: HttpRequest, placement_id: int) -> HttpResponse:
    person = person_of(request)
    placement = get_object_or_404(Placement.objects.visible_to(person), pk=placement_id)
    moisture.take_equipment_away(placement_id=placement.pk, by=person, now=timezone.now())
    messages.success(request, "Noted as taken away.")
    return _to_equipment(placement.job_id)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def limits_edit(request: HttpRequest) -> HttpResponse:
    """The shop's limits, each with its default and where that comes from."""
    person = person_of(request)
    if person.shop is None:
        raise Http404
    values = asdict(limits_of(person.shop))
    form = LimitsForm(request.POST if request.method == "POST" else None, shop=person.shop, values=values)
    if request.method == "POST" and form.is_valid():
        try:
            moisture.set_limits(shop=person.shop, values=form.values(), by=person, now=timezone.now())
        except JobError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, "The limits are set. Drying and verdicts are worked out anew.")
            return redirect("jobs:limits-edit")
    context = {"form": form, "altitude_form": AltitudeForm(shop=person.shop)}
    return render(request, "jobs/limits_edit.html", context, status=422 if form.errors else 200)


@require_POST
@manager_required
def altitude_set(request: HttpRequest) -> HttpResponse:
    """How high the shop stands; refused, it comes back on the page of the limits."""
    person = person_of(request)
    if person.shop is None:
        raise Http404
    form = AltitudeForm(request.POST, shop=person.shop)
    if not form.is_valid():
        limits_form = LimitsForm(shop=person.shop, values=asdict(limits_of(person.shop)))
        context = {"form": limits_form, "altitude_form": form}
        return render(request, "jobs/limits_edit.html", context, status=422)
    moisture.set_altitude(shop=person.shop, altitude_m=form.cleaned_data["altitude_m"])
    messages.success(request, "The altitude is set.")
    return redirect("jobs:limits-edit")


def _to_equipment(job_id: int) -> HttpResponse:
    return redirect(f"{reverse('jobs:drying-detail', args=[job_id])}#equipment")


def _stored_round(job: Job, key: str) -> ReadingRound | None:
    try:
        return job.rounds.filter(key=uuid.UUID(key)).first()
    except ValueError:
        return None


def _says_the_same(stored: ReadingRound, sent: QueryDict) -> bool:
    """Whether what was sent under a stored round's key is that round again, and not another typed over it."""
    for reading in stored.readings.all():
        typed = sent.get(f"reading_{reading.station_id}", "").strip().replace(",", ".")
        if reading.meter_pct is None:
            if sent.get(f"range_{reading.station_id}") != reading.range:
                return False
        elif not _is_number(typed, reading.meter_pct):
            return False
    return True


def _is_number(typed: str, value: float) -> bool:
    """Whether the text is this number, however it is written: 24.5 or 24.50."""
    try:
        return math.isclose(float(typed), value)
    except ValueError:
        return False


def _refuse_second(request: HttpRequest, job: Job) -> HttpResponse:
    """Another round typed on a page whose round is stored already: it gets a key of its own and is kept."""
    data = request.POST.copy()
    data["key"] = str(new_key())
    now = timezone.now()
    form = RoundForm(data, job=job, stations=list(job.stations.in_use().with_readings()), now=now)
    form.add_error(
        None, "A round from this page is stored already, and this one differs. If it is another round, send it again."
    )
    context = {"job": job, "shop": job.shop, "form": form, "rows": form.rows(), "stored_keys": ""}
    return render(request, "jobs/round_take.html", context, status=409)


def _store_round(request: HttpRequest, form: RoundForm, job: Job) -> bool:
    """Whether the round is stored; a refusal becomes the form's error."""
    readings = form.readings()
    try:
        moisture.take_round(
            job_id=job.pk,
            key=form.cleaned_data["key"],
            taken_at=form.cleaned_data["taken_at"],
            air=form.air(),
            cavity_air=form.cavity_air(),
            readings=readings,
            sure_of=form.sure_of(),
            by=person_of(request),
            now=timezone.now(),
        )
    except JobError as refusal:
        form.add_error(None, str(refusal))
        return False
    count = len(readings)
    messages.success(request, f"{count} reading{'' if count == 1 else 's'} stored. Drying is being worked out.")
    return True
