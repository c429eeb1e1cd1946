"""A revision of the agreed work on the screen and on paper."""

from typing import cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from estimates.documents import render_revision
from estimates.models import Revision
from estimates.sheet import read_sheet
from estimates.views.papers import pdf_response
from jobs.models import Person


@require_safe
def revision_detail(request: HttpRequest, revision_id: int) -> HttpResponse:
    revision = _revision(request, revision_id)
    context = {"sheet": read_sheet(revision), "revision": revision, "job": revision.job, "shop": revision.job.shop}
    return render(request, "estimates/revision_detail.html", context)


@require_safe
def revision_paper(request: HttpRequest, revision_id: int) -> HttpResponse:
    revision = _revision(request, revision_id)
    return pdf_response(render_revision(revision), f"agreed-work-{revision.job.number}-{revision.number}")


def _revision(request: HttpRequest, revision_id: int) -> Revision:
    """A revision of the person's own shop."""
    shop_id = cast(Person, request.user).shop_id
    rows = Revision.objects.select_related("job__shop", "job__coach")
    return get_object_or_404(rows, pk=revision_id, job__shop_id=shop_id, job__shop__isnull=False)
