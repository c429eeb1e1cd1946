"""The work sheet for the bay with the material to fetch, which the agreed estimate knows."""

from datetime import datetime

from django.template.loader import render_to_string

from estimates.material_list import read_material
from jobs.models import Job
from jobs.papers import as_pdf
from jobs.papers.work_sheet import read_work_sheet


def render_work_sheet(job: Job, *, now: datetime) -> bytes:
    """The work sheet as things stand now. No prices."""
    context = read_work_sheet(job, now=now) | {"material": read_material(job)}
    return as_pdf(render_to_string("pdf/work_sheet.html", context))
