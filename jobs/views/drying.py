"""The drying page of a job, and its pictures."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from jobs.charts.drying_data import chart_words
from jobs.charts.moisture_plan_data import plan_words
from jobs.drying_pictures import chart_of, draw_chart, draw_plan_picture, plan_of
from jobs.drying_sheet import read_drying
from jobs.forms import PlacementForm, RetireForm, new_key
from jobs.models import Job, Station
from jobs.models.moisture import Layer
from jobs.papers import render_drying_record
from jobs.views.access import person_of
from shopfloor.htmx import wants_partial

PICTURES = {"svg": "image/svg+xml", "png": "image/png"}


@require_safe
@vary_on_headers("HX-Request")
def drying_detail(request: HttpRequest, job_id: int) -> HttpResponse:
    return draw_drying(request, job_id)


@require_safe
@cache_control(private=True, max_age=3600)
def station_chart(request: HttpRequest, station_id: int, form: str) -> HttpResponse:
    """The drying chart of a station; its address on pages changes whenever the forecast does."""
    stations = Station.objects.visible_to(person_of(request)).with_readings()
    station = get_object_or_404(
        stations.select_related("forecast", "job__shop").prefetch_related("job__placements"), pk=station_id
    )
    if form not in PICTURES:
        raise Http404
    return _send(draw_chart(station, form, now=timezone.now()), form)  # type: ignore[arg-type]


@require_safe
@cache_control(private=True, max_age=3600)
def moisture_plan(request: HttpRequest, job_id: int, layer: str, form: str) -> HttpResponse:
    """The body plan of one layer, hatched by how wet it is."""
    job = get_object_or_404(Job.objects.visible_to(person_of(request)).with_coach(), pk=job_id)
    if form not in PICTURES or layer not in Layer.values:
        raise Http404
    return _send(draw_plan_picture(job, layer, form), form)  # type: ignore[arg-type]


@require_safe
def drying_record(request: HttpRequest, job_id: int) -> HttpResponse:
    """The drying record as a paper, for owner, insurer and file."""
    jobs = Job.objects.visible_to(person_of(request)).with_coach().prefetch_related("placements", "findings")
    job = get_object_or_404(jobs, pk=job_id)
    response = HttpResponse(render_drying_record(job, now=timezone.now()), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="drying-record-job-{job.number}.pdf"'
    return response


def draw_drying(
    request: HttpRequest,
    job_id: int,
    *,
    placement_form: PlacementForm | None = None,
    refused: tuple[int, RetireForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    """The drying page; a refused form comes back as it was filled in."""
    person = person_of(request)
    job = get_object_or_404(
        Job.objects.visible_to(person).with_coach().prefetch_related("placements", "findings"), pk=job_id
    )
    now = timezone.now()
    sheet = read_drying(job, now=now)
    for row in sheet.stations:
        row.station.job = job
    context = {
        "job": job,
        "shop": job.shop,
        "sheet": sheet,
        "charts": [
            (row, chart_words(chart_of(row.station, sheet.limits, now=now)), _retire_form(row.station.pk, refused))
            for row in sheet.stations
        ],
        "plans": [(layer, words, plan_words(plan_of(job, layer))) for layer, words in sheet.layers],
        "placement_form": placement_form or PlacementForm(initial={"key": new_key()}),
        "is_at_shop": job.arrived_at is not None and job.collected_at is None,
    }
    if wants_partial(request):
        return render(request, "jobs/_drying_state.html", context)
    return render(request, "jobs/drying_detail.html", context, status=status)


def _retire_form(station_id: int, refused: tuple[int, RetireForm] | None) -> RetireForm:
    if refused and refused[0] == station_id:
        return refused[1]
    return RetireForm(auto_id=f"retire-{station_id}-%s")


def _send(picture: bytes, form: str) -> HttpResponse:
    response = HttpResponse(picture, content_type=PICTURES[form])
    response["X-Content-Type-Options"] = "nosniff"
    return response
