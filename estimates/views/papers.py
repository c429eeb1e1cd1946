"""The papers of a job for the people of its shop."""

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_safe

from estimates.papers import PAPERS, render_change
from jobs.models import Job
from jobs.views.access import manager_required, person_of


@require_safe
def paper_show(request: HttpRequest, job_id: int, paper: str) -> HttpResponse:
    """A paper by its name. Technicians get those for the bay alone (403 for the others)."""
    job = _job(request, job_id)
    wanted = PAPERS.get(paper)
    if wanted is None:
        raise Http404
    if not (wanted.is_for_bay or person_of(request).is_manager):
        raise PermissionDenied
    return pdf_response(wanted.render(job, now=timezone.now()), f"{paper}-{job.number}")


@require_safe
@manager_required
def change_show(request: HttpRequest, job_id: int, request_id: int) -> HttpResponse:
    """The change approval of one question, to be signed or as it was answered."""
    job = _job(request, job_id)
    return change_response(job, request_id)


def change_response(job: Job, request_id: int) -> HttpResponse:
    """The change approval as a PDF; 404 for a question of another job, or one that was taken back."""
    try:
        pdf = render_change(job, request_id, now=timezone.now())
    except LookupError:
        raise Http404 from None
    return pdf_response(pdf, f"change-approval-{job.number}-{request_id}")


def pdf_response(pdf: bytes, name: str) -> HttpResponse:
    """A PDF to be shown in the browser, named for saving."""
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


def _job(request: HttpRequest, job_id: int) -> Job:
    """A job of the person's own shop."""
    return get_object_or_404(Job.objects.visible_to(person_of(request)).with_coach(), pk=job_id)
