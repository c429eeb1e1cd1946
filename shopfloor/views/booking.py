"""Booking a coach in."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from estimates.calc.contingency import Leak
from jobs.errors import JobError
from jobs.services.booking import NO_LIMIT
from jobs.views.access import manager_required, person_of
from shopfloor.access import shop_of
from shopfloor.forms import JobBooking
from shopfloor.services import book_in


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def job_book(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        return _draw(request, JobBooking(shop_of(request), asked=request.GET.dict()), status=200)
    booking = JobBooking(shop_of(request), request.POST)
    if not booking.is_valid():
        return _draw(request, booking, status=422)
    given = booking.stay.cleaned_data
    try:
        job = book_in(
            coach=booking.stay.coach_or_new(),
            complaint=given["complaint"],
            arrives_on=given["arrives_on"],
            work=booking.work(),
            bay=given["bay"],
            priority=given["priority"],
            go_ahead_usd=given["go_ahead_usd"] or NO_LIMIT,
            go_ahead_days=given["go_ahead_days"] or 0,
            leak=given["leak"] or Leak.UNKNOWN.value,
            promised_on=given["promised_on"],
            by=person_of(request),
            now=timezone.now(),
        )
    except JobError as refusal:
        booking.stay.add_error(None, str(refusal))
        return _draw(request, booking, status=422)
    messages.success(request, f"Job {job.number} is booked: {job.coach}.")
    return redirect("shopfloor:job-detail", job_id=job.pk)


def _draw(request: HttpRequest, booking: JobBooking, *, status: int) -> HttpResponse:
    return render(request, "shopfloor/job_book.html", {"booking": booking, "shop": shop_of(request)}, status=status)
