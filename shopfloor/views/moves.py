"""What the last plans moved, and a better order of work where there is one."""

from typing import Any

from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from estimates.better_order import LEAST_GAIN, BetterOrder, look_for_order
from estimates.inputs import read_shop
from estimates.models import ShopPlan
from estimates.moves import read_replans
from estimates.services.order import adopt_order, drop_order
from jobs.errors import Stale
from jobs.views.access import manager_required
from shopfloor.access import shop_of

SALT = "better order"


@require_safe
@manager_required
def move_list(request: HttpRequest) -> HttpResponse:
    if "look" not in request.GET:
        return _draw(request, {})
    try:
        found = look_for_order(read_shop(shop_of(request), timezone.now()))
    except ValueError as error:
        return _draw(request, {"refusal": str(error)}, status=422)
    return _draw(request, {"found": found, "order": _sealed(request, found) if found.is_worth_it else ""})


@require_POST
@manager_required
def order_adopt(request: HttpRequest) -> HttpResponse:
    """Take the order that was shown; a damaged one is refused, and one from before the last event."""
    shop, now = shop_of(request), timezone.now()
    try:
        order = signing.loads(request.POST.get("order", ""), salt=SALT)
    except signing.BadSignature:
        return _draw(request, {"refusal": "The order was damaged on its way. Please look for it again."}, status=422)
    if order["shop"] != shop.pk:
        return _draw(request, {"refusal": "This order is of another shop."}, status=422)
    try:
        turns = [(job, task) for job, task in order["turns"]]
        adopt_order(before=read_shop(shop, now), turns=turns, seen_entry=order["entry"], now=now)
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


def _sealed(request: HttpRequest, found: BetterOrder) -> str:
    """The order as shown, so that it is this one that is adopted."""
    order = {"shop": shop_of(request).pk, "entry": found.last_entry, "turns": found.turns}
    return signing.dumps(order, salt=SALT, compress=True)


def _draw(request: HttpRequest, context: dict[str, Any], *, status: int = 200) -> HttpResponse:
    shop = shop_of(request)
    context = {
        "shop": shop,
        "replans": read_replans(shop, timezone.now()),
        "plan": ShopPlan.objects.filter(shop=shop).first(),
        "least_gain_pct": round(100 * LEAST_GAIN),
    } | context
    return render(request, "shopfloor/move_list.html", context, status=status)
