"""What the last plans moved, and a better order of work where the worker has found one."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe
from django.views.decorators.vary import vary_on_headers

from estimates.better_order import LEAST_GAIN, read_better_order
from estimates.inputs import read_shop
from estimates.models import ShopPlan
from estimates.moves import read_replans
from estimates.services.order import adopt_order, drop_order
from estimates.services.order_search import ask_for_order
from jobs.errors import Stale
from jobs.views.access import manager_required
from shopfloor.access import shop_of
from shopfloor.htmx import wants_partial


@require_safe
@manager_required
@vary_on_headers("HX-Request")
def move_list(request: HttpRequest) -> HttpResponse:
    """The page; or its part about the order, which looks again while the worker searches."""
    if wants_partial(request):
        return render(request, "shopfloor/_better_order.html", _order(request))
    return _draw(request, {})


@require_POST
@manager_required
def order_look(request: HttpRequest) -> HttpResponse:
    ask_for_order(shop=shop_of(request), now=timezone.now())
    return redirect("shopfloor:move-list")


@require_POST
@manager_required
def order_adopt(request: HttpRequest) -> HttpResponse:
    """Take the order that was shown; another one is refused, and one from before the last event."""
    shop, now = shop_of(request), timezone.now()
    version = request.POST.get("version", "")
    if not version.isdecimal():
        return _draw(request, {"refusal": "The order was damaged on its way. Please press again."}, status=422)
    try:
        adopt_order(before=read_shop(shop, now), seen_version=int(version), now=now)
    except Stale as refusal:
        return _draw(request, {"refusal": str(refusal)}, status=409)
    except ValueError as error:
        return _draw(request, {"refusal": f"No plan can be made: {error}"}, status=422)
    messages.success(request, "The order is adopted.")
    return redirect("shopfloor:move-list")


@require_POST
@manager_required
def order_drop(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    try:
        drop_order(before=read_shop(shop_of(request), now), now=now)
    except ValueError as error:
        return _draw(request, {"refusal": f"No plan can be made: {error}"}, status=422)
    messages.success(request, "The shop is planned by the rule again.")
    return redirect("shopfloor:move-list")


def _order(request: HttpRequest) -> dict[str, Any]:
    shop = shop_of(request)
    return {
        "shop": shop,
        "order": read_better_order(shop, timezone.now()),
        "plan": ShopPlan.objects.filter(shop=shop).first(),
        "least_gain_pct": round(100 * LEAST_GAIN),
    }


def _draw(request: HttpRequest, context: dict[str, Any], *, status: int = 200) -> HttpResponse:
    replans = read_replans(shop_of(request), timezone.now())
    return render(request, "shopfloor/move_list.html", _order(request) | {"replans": replans} | context, status=status)
