"""The owner's pages: opened by a link, no account."""

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_POST, require_safe

from estimates.documents import render_revision
from estimates.papers import PAPERS
from estimates.together import read_together
from estimates.views.papers import change_response, pdf_response
from jobs.errors import AlreadyDecided, JobError, Stale
from jobs.models import ApprovalRequest, Decision, Photo
from jobs.services.approvals import Answer, chosen_remedy, record_decision
from jobs.throttle import is_too_many
from updates.forms import DecisionForm, TogetherForm
from updates.links import closed_page, enter, owner_link_required
from updates.models import OwnerLink
from updates.story import Story, StoryFinding, tell_story

# Far above what a person does, far below what guessing 256 bits would need.
OPENINGS_AN_ADDRESS = 60


@require_safe
@login_not_required
def link_open(request: HttpRequest, token: str) -> HttpResponse:
    """Open the owner's page. Mail scanners open links too, so this decides nothing and uses nothing up."""
    if is_too_many("owner-link", request.META["REMOTE_ADDR"], limit=OPENINGS_AN_ADDRESS):
        return closed_page(request)
    return enter(request, token, timezone.now()) or closed_page(request)


@require_safe
@owner_link_required
def job_story(request: HttpRequest, link: OwnerLink) -> HttpResponse:
    story = _story(link)
    return render(request, "updates/job_story.html", _page(link, story) | _together(request, link, story))


@require_POST
@owner_link_required
def decision_record(request: HttpRequest, link: OwnerLink, request_id: int) -> HttpResponse:
    asked = get_object_or_404(ApprovalRequest, pk=request_id, finding__job=link.job)
    form = DecisionForm(request.POST, prefix=str(asked.pk), remedies=_remedies(asked))
    if not form.is_valid():
        return _redraw(request, link, form, asked.pk, status=422)
    answer = Answer(
        remedy=chosen_remedy(asked, form.remedy_id()),
        typed_name=form.cleaned_data["typed_name"],
        owner=link.owner,
        channel=Decision.Channel.LINK,
        address=request.META["REMOTE_ADDR"],
        browser=request.headers.get("User-Agent", "")[:300],
    )
    try:
        decision = record_decision(
            request_id=asked.pk,
            seen_sha256=form.cleaned_data["seen_sha256"],
            answer=answer,
            by=None,
            now=timezone.now(),
        )
    except (Stale, AlreadyDecided) as refusal:
        return _redraw(request, link, form, asked.pk, status=409, refusal=str(refusal))
    except JobError as refusal:
        form.add_error(None, str(refusal))
        return _redraw(request, link, form, asked.pk, status=422)
    return redirect("updates:decision-thanks", public_id=link.job.public_id, decision_id=decision.pk)


@require_safe
@owner_link_required
def decision_thanks(request: HttpRequest, link: OwnerLink, decision_id: int) -> HttpResponse:
    decision = get_object_or_404(
        Decision.objects.select_related("request__finding"), pk=decision_id, request__finding__job=link.job
    )
    story = _story(link)
    finding = next(each for each in story.findings if each.number == decision.request.finding.number)
    context = _page(link, story) | {"decision": decision, "finding": finding}
    return render(request, "updates/decision_thanks.html", context)


@require_safe
@cache_control(private=True, max_age=3600)
@owner_link_required
def photo_show(request: HttpRequest, link: OwnerLink, photo_id: int, size: str) -> HttpResponseBase:
    """One rendition of a photo of this job; originals are never shown to owners."""
    photo = get_object_or_404(Photo, pk=photo_id, finding__job=link.job)
    if size not in {"small", "large"} or not photo.is_ready:
        raise Http404
    return FileResponse(getattr(photo, size).open("rb"), content_type="image/jpeg")


@require_safe
@owner_link_required
def revision_paper(request: HttpRequest, link: OwnerLink, number: int) -> HttpResponse:
    revision = get_object_or_404(link.job.revisions, number=number)
    return pdf_response(render_revision(revision), f"agreed-work-{link.job.number}-{number}")


@require_safe
@owner_link_required
def paper_show(request: HttpRequest, link: OwnerLink, paper: str) -> HttpResponse:
    """One of the papers that are the owner's to have."""
    wanted = PAPERS.get(paper)
    if wanted is None or not wanted.is_for_owner:
        raise Http404
    return pdf_response(wanted.render(link.job, now=timezone.now()), f"{paper}-{link.job.number}")


@require_safe
@owner_link_required
def change_paper(request: HttpRequest, link: OwnerLink, request_id: int) -> HttpResponse:
    """The change approval of a question that was answered; an open one is answered on the page."""
    answered = ApprovalRequest.objects.filter(finding__job=link.job, decision__isnull=False)
    return change_response(link.job, get_object_or_404(answered, pk=request_id).pk)


def _story(link: OwnerLink) -> Story:
    return tell_story(link.job, link.owner, today=link.job.shop.local_date(timezone.now()))


def _page(link: OwnerLink, story: Story) -> dict[str, Any]:
    """The page's rows, with one unanswered form for each open question."""
    return {
        "story": story,
        "job": link.job,
        "owner": link.owner,
        "shop": link.job.shop,
        "now": timezone.now(),
        "questions": [(finding, _blank_form(finding)) for finding in story.questions],
    }


def _together(request: HttpRequest, link: OwnerLink, story: Story) -> dict[str, Any]:
    """Several open questions together: a form to try answers, what the tried ones come to, and all ways if few."""
    together = read_together(link.job, story.questions, is_for_owner=True)
    if together is None:
        return {}
    asked = [
        (each.offer.finding_id, title, [choice.remedy_id for choice in each.choices])
        for title, each in zip(together.titles, story.questions, strict=True)
        if each.offer
    ]
    is_tried = any(name.startswith("try-") for name in request.GET)
    form = TogetherForm(request.GET if is_tried else None, questions=asked)
    picks = form.picks() if form.is_valid() else None
    way = together.way(picks) if picks is not None else None
    return {
        "together": together,
        "together_form": form,
        "together_tried": picks is not None,
        "together_way": way,
        "together_rows": list(zip(together.titles, way.answers, strict=True)) if way else [],
    }


def _blank_form(finding: StoryFinding) -> DecisionForm | None:
    if finding.request is None or finding.offer is None:
        return None
    remedies = [choice.remedy_id for choice in finding.choices]
    initial = {"seen_sha256": finding.offer.sha256}
    return DecisionForm(prefix=str(finding.request.pk), initial=initial, remedies=remedies)


def _remedies(asked: ApprovalRequest) -> list[int]:
    return list(asked.choices.order_by("position").values_list("pk", flat=True))


def _redraw(
    request: HttpRequest, link: OwnerLink, form: DecisionForm, request_id: int, *, status: int, refusal: str = ""
) -> HttpResponse:
    """The page again with what was typed. A changed offer gets a fresh form: the old one must not be signed."""
    context = _page(link, _story(link))
    if status == 422:
        context["questions"] = [
            (finding, form if finding.request and finding.request.pk == request_id else fresh)
            for finding, fresh in context["questions"]
        ]
    return render(request, "updates/job_story.html", context | {"refusal": refusal}, status=status)
