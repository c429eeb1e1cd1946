"""The board, and what the manager sets right from it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe
from django.views.decorators.vary import vary_on_headers

from jobs import journal
from jobs.errors import AlreadyDecided
from jobs.models import ApprovalRequest, Reaction
from jobs.services.approvals import withdraw_request
from jobs.views.access import manager_required, person_of
from shopfloor.access import shop_of
from shopfloor.board import read_board
from shopfloor.forms import WithdrawalForm
from shopfloor.htmx import wants_partial


@require_safe
@vary_on_headers("HX-Request")
@manager_required
def board(request: HttpRequest) -> HttpResponse:
    template = "shopfloor/_board.html" if wants_partial(request) else "shopfloor/board.html"
    return _draw(request, template)


@require_POST
@manager_required
def request_withdraw(request: HttpRequest, request_id: int) -> HttpResponse:
    asked = get_object_or_404(ApprovalRequest, pk=request_id, finding__job__shop=shop_of(request))
    form = WithdrawalForm(request.POST, prefix=f"withdraw{asked.pk}")
    if not form.is_valid():
        return _draw(request, "shopfloor/board.html", withdrawal=form, withdrawal_id=asked.pk, status=422)
    try:
        withdraw_request(
            request_id=asked.pk, reason=form.cleaned_data["reason"], by=person_of(request), now=timezone.now()
        )
    except AlreadyDecided as refusal:
        return _draw(request, "shopfloor/board.html", refusal=str(refusal), status=409)
    messages.success(request, f"The question about finding {asked.finding.number} is taken back.")
    return redirect("shopfloor:board")


@require_POST
@manager_required
def reaction_retry(request: HttpRequest, reaction_id: int) -> HttpResponse:
    reaction = get_object_or_404(Reaction, pk=reaction_id, entry__job__shop=shop_of(request))
    journal.retry(reaction.pk, now=timezone.now())
    messages.success(request, "It is being tried again.")
    return redirect("shopfloor:board")


def _draw(
    request: HttpRequest,
    template: str,
    *,
    withdrawal: WithdrawalForm | None = None,
    withdrawal_id: int | None = None,
    refusal: str = "",
    status: int = 200,
) -> HttpResponse:
    shop, now = shop_of(request), timezone.now()
    read = read_board(shop, now)
    questions = [
        (
            line,
            withdrawal if withdrawal_id == line.request.pk else WithdrawalForm(prefix=f"withdraw{line.request.pk}"),
        )
        for line in read.questions
    ]
    context = {"board": read, "shop": shop, "now": now, "questions": questions, "refusal": refusal}
    return render(request, template, context, status=status)
