"""Today's work of all people, and giving it out."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from estimates.day import read_day
from estimates.inputs import read_shop
from estimates.reasons import Cause, Reason
from estimates.services.planning import give_out_anew, work_out_plan
from jobs.views.access import manager_required, person_of
from shopfloor.access import shop_of

GIVEN_OUT_ANEW = Reason(Cause.WORK, "Today’s work planned anew and given out")


@require_safe
@manager_required
def day(request: HttpRequest) -> HttpResponse:
    shop = shop_of(request)
    return render(request, "shopfloor/day.html", {"day": read_day(shop, timezone.now()), "shop": shop})


@require_POST
@manager_required
def day_give_out(request: HttpRequest) -> HttpResponse:
    """Plan the shop without today's starts, and give out what comes of it."""
    now = timezone.now()
    try:
        kept = read_shop(shop_of(request), now)
        new = work_out_plan(kept.given_out_anew(), before=kept, reason=GIVEN_OUT_ANEW)
    except ValueError as error:
        messages.error(request, f"No plan can be made: {error}")
        return redirect("shopfloor:day")
    if give_out_anew(new, by=person_of(request), now=now):
        messages.success(request, "Today’s work is given out.")
    else:
        messages.error(request, "The plan was made anew at this moment. Please press again.")
    return redirect("shopfloor:day")
