"""How much equipment the shop has. A change is planned at once."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from estimates.equipment import equipment_of
from estimates.inputs import read_shop
from estimates.reasons import Cause, Reason
from estimates.services.planning import replan_after
from jobs.services.equipment import set_equipment
from jobs.views.access import manager_required
from shopfloor.access import shop_of
from shopfloor.equipment_form import EquipmentForm


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def equipment_edit(request: HttpRequest) -> HttpResponse:
    shop = shop_of(request)
    form = EquipmentForm(request.POST if request.method == "POST" else None, has=equipment_of(shop.pk))
    if request.method != "POST" or not form.is_valid():
        return render(request, "shopfloor/equipment_edit.html", {"form": form}, status=422 if form.is_bound else 200)
    now = timezone.now()
    before = read_shop(shop, now)
    set_equipment(shop=shop, counts=form.counts())
    messages.success(request, "Noted.")
    try:
        for words in replan_after(before, reason=Reason(Cause.WORK, "The shop’s equipment counted anew"), now=now):
            messages.error(request, f"Not all coaches can be planned with that: {words}")
    except ValueError as error:
        messages.error(request, f"No plan can be made with that: {error}")
    return redirect("shopfloor:equipment-edit")
