"""How the dates that the shop was told held."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.views.access import manager_required
from shopfloor.access import shop_of
from shopfloor.odds_record import read_record_page


@require_safe
@manager_required
def odds_record(request: HttpRequest) -> HttpResponse:
    shop = shop_of(request)
    page = read_record_page(shop, timezone.now())
    context = {"page": page, "shop": shop, "is_demo": settings.DEMO}
    return render(request, "shopfloor/odds_record.html", context)
