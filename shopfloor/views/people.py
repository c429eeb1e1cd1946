"""The people of the shop and when they work. Every change is planned at once."""

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from estimates.inputs import read_shop
from estimates.reasons import Cause, Reason
from estimates.services.planning import replan_after
from jobs.errors import JobError
from jobs.models import Absence, Overtime, Person
from jobs.services import people
from jobs.views.access import manager_required
from shopfloor.access import shop_of
from shopfloor.people_forms import AwayForm, OvertimeForm, WeekForm


@require_safe
@manager_required
def person_list(request: HttpRequest) -> HttpResponse:
    shop = shop_of(request)
    rows = Person.objects.filter(shop=shop, is_active=True).order_by("first_name", "last_name", "username")
    context = {
        "people": rows.prefetch_related("skills", "own_hours", "absences", "overtime"),
        "shop": shop,
        "today": shop.local_date(timezone.now()),
        "now": timezone.now(),
    }
    return render(request, "shopfloor/person_list.html", context)


@require_safe
@manager_required
def person_detail(request: HttpRequest, person_id: int) -> HttpResponse:
    return _draw(request, _person(request, person_id))


@require_POST
@manager_required
def person_hours(request: HttpRequest, person_id: int) -> HttpResponse:
    person = _person(request, person_id)
    form = WeekForm(request.POST, person=person)
    if not form.is_valid():
        return _draw(request, person, week=form, status=422)
    return _change(request, person, form, lambda: people.set_own_hours(person=person, hours=form.hours()))


@require_POST
@manager_required
def absence_add(request: HttpRequest, person_id: int) -> HttpResponse:
    person = _person(request, person_id)
    form = AwayForm(request.POST)
    if not form.is_valid():
        return _draw(request, person, away=form, status=422)
    days = form.cleaned_data
    today = shop_of(request).local_date(timezone.now())
    return _change(
        request,
        person,
        form,
        lambda: people.add_absence(person=person, first_on=days["first_on"], last_on=days["last_on"], today=today),
    )


@require_POST
@manager_required
def overtime_add(request: HttpRequest, person_id: int) -> HttpResponse:
    person = _person(request, person_id)
    form = OvertimeForm(request.POST)
    if not form.is_valid():
        return _draw(request, person, overtime=form, status=422)
    begins_at, ends_at = form.span(ZoneInfo(shop_of(request).time_zone))
    return _change(
        request,
        person,
        form,
        lambda: people.add_overtime(person=person, begins_at=begins_at, ends_at=ends_at, now=timezone.now()),
    )


@require_POST
@manager_required
def absence_remove(request: HttpRequest, absence_id: int) -> HttpResponse:
    absence = get_object_or_404(Absence.objects.select_related("person"), pk=absence_id, person__shop=shop_of(request))
    return _change(request, absence.person, None, lambda: people.remove_absence(absence=absence))


@require_POST
@manager_required
def overtime_remove(request: HttpRequest, overtime_id: int) -> HttpResponse:
    overtime = get_object_or_404(
        Overtime.objects.select_related("person"), pk=overtime_id, person__shop=shop_of(request)
    )
    return _change(request, overtime.person, None, lambda: people.remove_overtime(overtime=overtime))


def _change(
    request: HttpRequest, person: Person, form: forms.Form | None, service: Callable[[], object]
) -> HttpResponse:
    """Make one change and plan the shop with it; what it moves is put down to it."""
    now, name = timezone.now(), person.get_full_name() or person.username
    before = read_shop(shop_of(request), now)
    try:
        service()
    except JobError as refusal:
        if form is None:
            raise
        form.add_error(getattr(form, "BESIDE", {}).get(refusal.about), str(refusal))
        return _draw(request, person, refused=form, status=422)
    messages.success(request, "Noted.")
    try:
        for words in replan_after(before, reason=Reason(Cause.WORK, f"Working time of {name} changed"), now=now):
            messages.error(request, f"Not all coaches can be planned with that: {words}")
    except ValueError as error:
        messages.error(request, f"No plan can be made with that: {error}")
    return redirect("shopfloor:person-detail", person_id=person.pk)


def _person(request: HttpRequest, person_id: int) -> Person:
    return get_object_or_404(Person, pk=person_id, shop=shop_of(request), is_active=True)


def _draw(
    request: HttpRequest,
    person: Person,
    *,
    week: WeekForm | None = None,
    away: AwayForm | None = None,
    overtime: OvertimeForm | None = None,
    refused: forms.Form | None = None,
    status: int = 200,
) -> HttpResponse:
    shop, now = shop_of(request), timezone.now()
    kept = {type(form): form for form in (week, away, overtime, refused) if form}
    context = {
        "person": person,
        "shop": shop,
        "week": kept.get(WeekForm) or WeekForm(person=person),
        "away": kept.get(AwayForm) or AwayForm(),
        "overtime": kept.get(OvertimeForm) or OvertimeForm(),
        "absences": person.absences.filter(last_on__gte=shop.local_date(now)).order_by("first_on"),
        "spans": person.overtime.filter(ends_at__gt=now),
    }
    return render(request, "shopfloor/person_detail.html", context, status=status)
