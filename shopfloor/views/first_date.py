"""When the shop could have a coach ready that it has not booked yet. A GET that changes nothing."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from estimates.first_date import first_date
from estimates.inputs import read_shop
from jobs.views.access import manager_required
from shopfloor.access import shop_of
from shopfloor.first_date_form import FirstDateForm


@require_safe
@manager_required
def first_date_find(request: HttpRequest) -> HttpResponse:
    snapshot = read_shop(shop_of(request), timezone.now())
    form = FirstDateForm(request.GET if "ask" in request.GET else None, snapshot=snapshot)
    if not form.is_bound:
        return _draw(request, form, {})
    if not form.is_valid():
        return _draw(request, form, {}, status=422)
    try:
        found = first_date(snapshot, form.prospect(), in_100=form.in_100())
    except ValueError as error:
        form.add_error(None, str(error))
        return _draw(request, form, {}, status=422)
    operations = [each for chain in form.chains for each in chain]
    return _draw(request, form, {"found": found, "operations": operations, "booking": form.booking_link()})


def _draw(request: HttpRequest, form: FirstDateForm, context: dict[str, Any], *, status: int = 200) -> HttpResponse:
    return render(request, "shopfloor/first_date.html", {"form": form, "shop": form.shop} | context, status=status)
