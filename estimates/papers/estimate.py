"""The estimate: the work agreed so far at its price, and what the owner has still to answer."""

from datetime import datetime
from typing import Any

from django.template.loader import render_to_string

from estimates.balances import read_paid
from estimates.papers.answers import read_asked, with_dates_of_today
from estimates.sheet import read_sheet, without_news
from jobs.models import Job
from jobs.papers.parts import head_of, place_row
from jobs.papers.rendering import as_pdf


def render_estimate(job: Job, *, now: datetime) -> bytes:
    """The estimate as things stand now; every figure comes from the kept revision and offers."""
    return as_pdf(render_to_string("pdf/estimate.html", read_estimate(job, now=now)))


def read_estimate(job: Job, *, now: datetime) -> dict[str, Any]:
    """All that the estimate prints."""
    revision = job.revisions.order_by("number").last()
    sheet = without_news(read_sheet(revision)) if revision else None
    agreed = {group["finding"] for group in revision.content["groups"]} if revision else set()
    findings = job.findings.filter(pk__in=agreed).order_by("number")
    return head_of(job, now=now) | {
        "revision": revision,
        "sheet": sheet,
        "paid": read_paid(job, revision),
        "places": [place_row(each, job) for each in findings],
        "open": with_dates_of_today(job, read_asked(job)),
    }
