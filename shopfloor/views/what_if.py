"""The manager's what-if page. Every question is a GET, and changes nothing."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from estimates.inputs import Snapshot, read_shop
from estimates.what_if import WhatIf, ask, new_turns
from jobs.models import Bay, Job, Remedy
from jobs.views.access import manager_required
from shopfloor.access import shop_of
from shopfloor.what_if_form import WhatIfForm


@require_safe
@manager_required
def what_if(request: HttpRequest) -> HttpResponse:
    shop = shop_of(request)
    snapshot = read_shop(shop, timezone.now())
    finding_ids = [each.finding.pk for each in snapshot.questions()]
    remedies = {
        remedy.pk: remedy for remedy in Remedy.objects.filter(finding__in=finding_ids).select_related("standard")
    }
    form = WhatIfForm(request.GET if "ask" in request.GET else None, snapshot=snapshot, remedies=remedies)
    if not form.is_bound:
        form.initial = request.GET.dict()
        return _draw(request, form, {})
    if not form.is_valid():
        return _draw(request, form, {}, status=422)
    try:
        answer = ask(snapshot, form.what_if())
    except ValueError as error:
        form.add_error(None, str(error))
        return _draw(request, form, {}, status=422)
    context = {
        "answer": answer,
        "link": form.kept_link() + "&ask=1",
        "acts": list(_acts(snapshot, form.what_if())),
        "left_unsafe": form.left_unsafe(),
    }
    return _draw(request, form, context)


def _acts(snapshot: Snapshot, asked: WhatIf) -> list[tuple[Job, Bay | None, int | None]]:
    """What of the question can be carried over by a press: a coach that is here into a free bay, and a turn."""
    jobs, bays = {job.pk: job for job in snapshot.jobs}, {bay.pk: bay for bay in snapshot.bays}
    taken = {job.bay_id for job in snapshot.jobs if job.is_in_bay}
    moves: list[tuple[Job, Bay | None, int | None]] = [
        (jobs[job_id], bays[bay_id], None)
        for job_id, bay_id in asked.bays.items()
        if jobs[job_id].arrived_at and bay_id not in taken
    ]
    return moves + [(jobs[job_id], None, number) for job_id, number in new_turns(snapshot, asked).items()]


def _draw(request: HttpRequest, form: WhatIfForm, context: dict[str, Any], *, status: int = 200) -> HttpResponse:
    context = {"form": form, "shop": form.snapshot.shop, "now": form.snapshot.now} | context
    return render(request, "shopfloor/what_if.html", context, status=status)
