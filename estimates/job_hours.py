"""A job's clocked hours and noted materials beside its estimate, as rows ready to print."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from estimates.calc.money import PriceLine, decimal_quantity, line_amount
from estimates.models import Rates, Revision
from estimates.pricing import lines_from_json
from jobs.calc.workdays import ShopCalendar
from jobs.models import Job, MaterialUse, Operation, Shop, WorkSpan
from jobs.models.work import OperationKind


@dataclass(frozen=True)
class SpanRow:
    """A span; hours [h], an open one's until now. flag: what a manager should look at, in words, or empty."""

    span: WorkSpan
    hours: float
    flag: str


@dataclass(frozen=True)
class HoursRow:
    """One labour operation [person-hours]. over_hours: None while it goes on or when nobody clocked on."""

    operation: Operation
    estimated_hours: float
    clocked_hours: float
    spans: tuple[SpanRow, ...]

    @property
    def is_redo(self) -> bool:
        return self.operation.redo_of_id is not None

    @property
    def over_hours(self) -> float | None:
        is_known = self.operation.finished_at is not None and bool(self.spans)
        return self.clocked_hours - self.estimated_hours if is_known else None

    @property
    def over_words(self) -> str:
        if self.over_hours is None:
            return ""
        minutes = round(60 * self.over_hours)
        if not minutes:
            return "as estimated"
        return f"{_hours(abs(minutes) / 60)} {'over' if minutes > 0 else 'under'}"


@dataclass(frozen=True)
class JobHours:
    """Hours of a job [person-hours]. The rework is the shop's: its hours stand apart from the owner's estimate."""

    rows: tuple[HoursRow, ...]
    estimated_hours: float
    clocked_hours: float
    rework_estimated_hours: float
    rework_hours: float
    rework_usd: Decimal | None
    materials_estimated: tuple[PriceLine, ...]
    materials_used: tuple[MaterialUse, ...]

    @property
    def flagged(self) -> list[SpanRow]:
        return [each for row in self.rows for each in row.spans if each.flag]


def read_job_hours(job: Job, now: datetime) -> JobHours:
    """All labour of a job against the clock, in a fixed number of queries. rework_usd is at the shop's labour rate."""
    calendar = job.shop.calendar()
    operations = job.operations.filter(kind=OperationKind.LABOUR).prefetch_related("spans__person")
    rows = tuple(_row(operation, calendar, now) for operation in operations)
    rework = [row for row in rows if row.is_redo]
    owners = [row for row in rows if not row.is_redo]
    rework_hours = sum(row.clocked_hours for row in rework)
    return JobHours(
        rows=rows,
        estimated_hours=sum(row.estimated_hours for row in owners),
        clocked_hours=sum(row.clocked_hours for row in owners),
        rework_estimated_hours=sum(row.estimated_hours for row in rework),
        rework_hours=rework_hours,
        rework_usd=_cost(job.shop, rework_hours),
        materials_estimated=tuple(_material_lines(job.revisions.order_by("number").last())),
        materials_used=tuple(
            MaterialUse.objects.filter(operation__job=job).select_related("operation", "noted_by").order_by("pk")
        ),
    )


def left_open(shop: Shop, calendar: ShopCalendar, now: datetime) -> list[SpanRow]:
    """The shop's spans that are open still though their day is over or the shop has closed since, oldest first."""
    spans = WorkSpan.objects.open().filter(operation__job__shop=shop).select_related("operation__job__coach", "person")
    return [row for row in (_span_row(span, calendar, now) for span in spans) if row.flag]


def _row(operation: Operation, calendar: ShopCalendar, now: datetime) -> HoursRow:
    spans = tuple(_span_row(span, calendar, now) for span in operation.spans.all())
    return HoursRow(
        operation=operation,
        estimated_hours=operation.person_hours,
        clocked_hours=sum(row.hours for row in spans),
        spans=spans,
    )


def _span_row(span: WorkSpan, calendar: ShopCalendar, now: datetime) -> SpanRow:
    return SpanRow(span, span.hours_until(now), _flag(span, calendar, now))


def _flag(span: WorkSpan, calendar: ShopCalendar, now: datetime) -> str:
    """Nobody cuts hours in silence: what ran over a night is shown until a manager has looked at it."""
    began_on, ended_on = calendar.local_date(span.started_at), calendar.local_date(span.ended_at or now)
    days = (ended_on - began_on).days
    if not days and span.is_left_open(now, calendar):
        return "still open after closing time"
    if not days or span.mended_at:
        return ""
    if span.ended_at is None:
        return "still open since yesterday" if days == 1 else f"still open after {days} days"
    return "ran through a night" if days == 1 else f"ran through {days} nights"


def _cost(shop: Shop, hours: float) -> Decimal | None:
    rates = Rates.objects.filter(shop=shop).first()
    return line_amount(decimal_quantity(hours, 2), rates.labour_usd_per_hour) if rates else None


def _material_lines(revision: Revision | None) -> Iterable[PriceLine]:
    if revision is None:
        return []
    lines = [line for group in revision.content["groups"] for line in lines_from_json(group["lines"])]
    return [line for line in lines if line.kind == "material"]


def _hours(number: float) -> str:
    return f"{number:.2f}".rstrip("0").rstrip(".") + " h"
