"""The papers of the estimate as PDF."""

from typing import Any

from django.template.loader import render_to_string

from estimates.models import Revision
from estimates.sheet import read_sheet
from jobs.papers import as_pdf


def render_revision(revision: Revision) -> bytes:
    """The paper "agreed work" of a revision."""
    return as_pdf(render_to_string("pdf/agreed_work.html", _context(revision)))


def _context(revision: Revision) -> dict[str, Any]:
    job = revision.job
    owners = [ownership.owner for ownership in job.coach.ownerships.select_related("owner").order_by("pk")]
    return {"sheet": read_sheet(revision), "revision": revision, "job": job, "shop": job.shop, "owners": owners}
