"""The drying record of a job."""

from datetime import datetime

from django.template.loader import render_to_string

from jobs.charts.drying_data import chart_words
from jobs.charts.moisture_plan_data import plan_words
from jobs.drying_pictures import chart_of, draw_chart, draw_plan_picture, plan_of
from jobs.drying_sheet import read_drying
from jobs.models import Job
from jobs.papers.rendering import as_pdf, png_address


def render_drying_record(job: Job, *, now: datetime) -> bytes:
    """The drying record: stations with their readings and charts, the air, the equipment; as things stand now."""
    sheet = read_drying(job, now=now)
    for row in sheet.stations:
        row.station.job = job
    read = [row for row in sheet.stations if row.readings]
    context = {
        "job": job,
        "shop": job.shop,
        "sheet": sheet,
        "now": now,
        "charts": [
            (
                row,
                png_address(draw_chart(row.station, "png", now=now)),
                chart_words(chart_of(row.station, sheet.limits, now=now)),
            )
            for row in read
        ],
        "plans": [
            (png_address(draw_plan_picture(job, layer, "png")), plan_words(plan_of(job, layer)))
            for layer, _ in sheet.layers
        ],
        "owners": job.coach.owners.order_by("pk"),
        "findings": job.findings.filter(is_booked=False).order_by("number"),
    }
    return as_pdf(render_to_string("pdf/drying_record.html", context))
