"""Standard hours beside the shop's own record, and taking them over."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from estimates.job_hours import left_open
from estimates.models import RecipeOperation
from estimates.services.actuals import accept_hours, read_steps
from jobs.errors import JobError, Stale
from jobs.models import Shop
from jobs.views.access import manager_required, person_of


@require_safe
@manager_required
def actuals(request: HttpRequest) -> HttpResponse:
    return _draw(request, _shop(request))


@require_POST
@manager_required
def hours_accept(request: HttpRequest, recipe_operation_id: int) -> HttpResponse:
    """Take over what was suggested on the screen; if the record moved on meanwhile, the page is shown anew."""
    shop = _shop(request)
    step = get_object_or_404(RecipeOperation, pk=recipe_operation_id, standard_remedy__shop=shop)
    seen = request.POST.get("seen", "")
    try:
        accept_hours(recipe_operation_id=step.pk, seen=seen, by=person_of(request), now=timezone.now())
    except Stale as refusal:
        return _draw(request, shop, refusal=str(refusal), status=409)
    except JobError as refusal:
        return _draw(request, shop, refusal=str(refusal), status=422)
    messages.success(request, f"The catalogue now counts these hours for “{step.words}”, from the next estimate on.")
    return redirect("estimates:actuals")


def _draw(request: HttpRequest, shop: Shop, *, refusal: str = "", status: int = 200) -> HttpResponse:
    rows = read_steps(shop)
    context = {
        "shop": shop,
        "rows": [row for row in rows if row.finished or row.last_accepted],
        "unknown": [row for row in rows if not row.finished and not row.last_accepted],
        "open_spans": left_open(shop, shop.calendar(), timezone.now()),
        "refusal": refusal,
    }
    return render(request, "estimates/actuals.html", context, status=status)


def _shop(request: HttpRequest) -> Shop:
    shop = person_of(request).shop
    if shop is None:
        raise PermissionDenied
    return shop
