"""The first page after signing in: every bay and the coach in it."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import dateformat, timezone
from django.views.decorators.http import require_safe

from jobs.calc.stage import Stage
from jobs.models import Bay, Job, Operation, Person, Shop, WorkSpan
from jobs.stages import progress_of
from jobs.views.access import person_of


@dataclass(frozen=True)
class Standing:
    """A coach where it stands."""

    job: Job
    stage: Stage


@dataclass(frozen=True)
class BayRow:
    bay: Bay
    standing: Standing | None


@require_safe
def start(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    if person.shop is None:
        return redirect("admin:index")
    if person.is_manager:
        return redirect("shopfloor:board")
    return render(request, "jobs/start.html", _rows(person, person.shop))


def _rows(person: Person, shop: Shop) -> dict[str, object]:
    jobs = Job.objects.visible_to(person).open().with_coach()
    progress = progress_of(jobs)
    standings = [Standing(job, progress[job.pk].stage) for job in jobs]
    mine = WorkSpan.objects.open().filter(person=person).select_related("operation__job__coach").first()
    in_bay = {each.job.bay_id: each for each in standings if each.job.is_in_bay}
    return {
        "shop": shop,
        "bays": [BayRow(bay, in_bay.get(bay.pk)) for bay in shop.bays.all()],
        "outside": [each for each in standings if each.job.arrived_at and not each.job.is_in_bay],
        "booked": sorted((each for each in standings if not each.job.arrived_at), key=lambda each: each.job.arrives_on),
        "mine": mine,
        "forgotten_since": _forgotten_since(mine, shop) if mine else "",
        "running": Operation.objects.visible_to(person)
        .unfinished()
        .filter(started_at__isnull=False)
        .select_related("job__coach", "job__bay")
        .prefetch_related("workers")
        .order_by("started_at"),
    }


def _forgotten_since(span: WorkSpan, shop: Shop) -> str:
    """Since when a clock runs that ran past closing time, in words; empty for one that did not."""
    now = timezone.now()
    if not span.is_left_open(now, shop.calendar()):
        return ""
    began_at = span.started_at.astimezone(ZoneInfo(shop.time_zone))
    nights = (shop.local_date(now) - began_at.date()).days
    if not nights:
        return dateformat.format(began_at, r"g:i A \t\o\d\a\y")
    return dateformat.format(began_at, r"\y\e\s\t\e\r\d\a\y, g:i A" if nights == 1 else "D, M j, g:i A")
