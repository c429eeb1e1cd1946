"""The margin of a job on the manager's price page: rows in, estimates.calc.margin asked, words ready to print out."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.text import capfirst

from estimates.calc.margin import Cost, Part, Stuff, Work, labour_cost, material_cost, share_pct, whole
from estimates.calc.money import BILLED, ZERO, PriceLine, bill_line, margin, round_cents
from estimates.calc.takeoff import count_words
from estimates.models import Material, Revision, RevisionCosts
from estimates.pricing import lines_from_json
from jobs.models import Job, MaterialUse, Operation, WorkSpan
from jobs.models.work import OperationKind

GroupCosts = dict[str, Any]


@dataclass(frozen=True)
class MarginRow:
    """One part of the job in words, with its hours [person-hours]."""

    words: str
    part: Part
    estimated_hours: float = 0.0
    standing_hours: float = 0.0


@dataclass(frozen=True)
class JobMargin:
    """The margin of a job before tax. whole: None while something's cost is not known (`unknown` says what)."""

    revision_number: int
    rows: tuple[MarginRow, ...]
    whole: Part | None
    unknown: tuple[str, ...]
    uncounted: tuple[MaterialUse, ...]  # noted material that nobody knows a price for
    running: tuple[WorkSpan, ...]  # clocks that are open, oldest first; counted to closing time of their first day

    @property
    def estimated_pct(self) -> Decimal | None:
        return share_pct(self.whole.estimated_usd, self.whole.price_usd) if self.whole else None

    @property
    def standing_pct(self) -> Decimal | None:
        return share_pct(self.whole.standing_usd, self.whole.price_usd) if self.whole else None

    @property
    def words(self) -> str:
        """How the margin moved since it was estimated."""
        if self.whole is None:
            return ""
        change = self.whole.change_usd
        if not change:
            return "The margin stands as it was estimated."
        return f"${abs(change):,.2f} {'more' if change > 0 else 'less'} stays with the shop than was estimated."


def read_margin(job: Job, now: datetime) -> JobMargin | None:
    """The margin by the job's latest revision, in a fixed number of queries; None before there is one.

    Hours cost what an hour cost the shop when their work was priced, so that a new rate moves no old margin.
    """
    revision = job.revisions.order_by("number").last()
    if revision is None:
        return None
    kept = RevisionCosts.objects.filter(revision=revision).first()
    costs: dict[str, GroupCosts] = kept.content if kept else {}
    work = _work_of(job, now)
    uses = _uses_of(job)
    catalogue = list(Material.objects.filter(shop_id=job.shop_id)) if uses else []
    findings = job.findings.in_bulk()
    rows, unknown, uncounted = [], [], []
    for group in revision.content["groups"]:
        finding = group["finding"]
        words = f"{capfirst(findings[finding].label)}, {group['words']}"
        read = _Group(group, costs.get(str(finding)), work[finding], uses[finding], catalogue)
        if read.is_known:
            rows += read.rows(words)
            uncounted += read.uncounted
        else:
            unknown.append(words)
    if not unknown:
        rows += _discounts(revision)
    return JobMargin(
        revision_number=revision.number,
        rows=tuple(rows),
        whole=None if unknown else whole([row.part for row in rows]),
        unknown=tuple(unknown),
        uncounted=tuple(uncounted),
        running=_running(work),
    )


@dataclass(frozen=True)
class _Done:
    """An operation with the hours clocked on it, and the clocks that are open."""

    operation: Operation
    clocked_hours: float
    running: tuple[WorkSpan, ...] = ()

    @property
    def is_redo(self) -> bool:
        return self.operation.redo_of_id is not None

    @property
    def work(self) -> Work:
        operation = self.operation
        return Work(operation.person_hours, self.clocked_hours, operation.finished_at is not None)


class _Group:
    """The lines of one finding with their kept costs, its operations, and the material noted for them."""

    def __init__(
        self,
        group: dict[str, Any],
        costs: GroupCosts | None,
        done: Sequence[_Done],
        uses: Sequence[MaterialUse],
        catalogue: Sequence[Material],
    ) -> None:
        kept = costs["lines"] if costs else {}
        known = {key: Decimal(text) for key, text in kept.items() if text is not None}
        self.lines = [replace(line, cost_usd=known.get(line.key)) for line in lines_from_json(group["lines"])]
        self.usd_per_hour = Decimal(costs["labour_usd_per_hour"]) if costs and costs["labour_usd_per_hour"] else None
        self.done = done
        self.priced = {use: _use_usd(use, self.lines, catalogue) for use in uses}

    @property
    def is_known(self) -> bool:
        return self.usd_per_hour is not None and all(line.cost_usd is not None for line in self.lines)

    @property
    def uncounted(self) -> list[MaterialUse]:
        return [use for use, usd in self.priced.items() if usd is None]

    def rows(self, words: str) -> list[MarginRow]:
        """The work as agreed, and beside it what was done again at the shop's cost."""
        first, again = ([each for each in self.done if each.is_redo == is_redo] for is_redo in (False, True))
        estimate = margin([bill_line(line) for line in self.lines])
        rows = [_row(words, Part(estimate.revenue_usd, self._labour(first), self._material(first)), first)]
        if again:
            part = Part(ZERO, self._labour(again, is_estimated=False), self._material_again(again))
            rows.append(_row(f"{words}: done again at the shop’s cost", part, again, is_estimated=False))
        return rows

    def _labour(self, done: Sequence[_Done], *, is_estimated: bool = True) -> Cost:
        if self.usd_per_hour is None:
            raise ValueError("what an hour costs must be known")
        return labour_cost([each.work for each in done], self.usd_per_hour, is_estimated=is_estimated)

    def _material(self, done: Sequence[_Done]) -> Cost:
        is_over = bool(done) and all(each.operation.finished_at for each in done)
        used = self._used(done)
        lines = [line for line in self.lines if line.kind == "material"]
        stuff = [Stuff(line.cost_usd or ZERO, used.pop(_name(line.words), None), is_over) for line in lines]
        return material_cost([*stuff, *(Stuff(ZERO, usd, is_over) for usd in used.values())])

    def _material_again(self, again: Sequence[_Done]) -> Cost:
        return material_cost(Stuff(ZERO, usd, is_over=True) for usd in self._used(again).values())

    def _used(self, done: Sequence[_Done]) -> dict[str, Decimal]:
        """What was noted for these operations by the name of the material, where its price is known."""
        operations = {each.operation.pk for each in done}
        found: dict[str, Decimal] = {}
        for use, usd in self.priced.items():
            if usd is not None and use.operation_id in operations:
                found[_name(use.name)] = found.get(_name(use.name), ZERO) + usd
        return found


def _row(words: str, part: Part, done: Sequence[_Done], *, is_estimated: bool = True) -> MarginRow:
    works = [each.work for each in done]
    estimated_hours = sum(work.estimated_hours for work in works) if is_estimated else 0.0
    return MarginRow(words, part, estimated_hours, sum(work.standing_hours for work in works))


def _work_of(job: Job, now: datetime) -> dict[int, list[_Done]]:
    """The labour of the job by finding."""
    found: dict[int, list[_Done]] = defaultdict(list)
    calendar = job.shop.calendar()
    labour = job.operations.filter(kind=OperationKind.LABOUR).select_related("remedy")
    for operation in labour.prefetch_related("spans__person"):
        spans = operation.spans.all()
        hours = sum(span.hours_so_far(now, calendar) for span in spans)
        running = tuple(span for span in spans if span.ended_at is None)
        found[operation.remedy.finding_id].append(_Done(operation, hours, running))
    return found


def _running(work: dict[int, list[_Done]]) -> tuple[WorkSpan, ...]:
    found = (span for done in work.values() for each in done for span in each.running)
    return tuple(sorted(found, key=lambda span: (span.started_at, span.pk)))


def _uses_of(job: Job) -> dict[int, list[MaterialUse]]:
    found: dict[int, list[MaterialUse]] = defaultdict(list)
    for use in MaterialUse.objects.filter(operation__job=job).select_related("operation__remedy").order_by("pk"):
        found[use.operation.remedy.finding_id].append(use)
    return found


def _use_usd(use: MaterialUse, lines: Iterable[PriceLine], catalogue: Iterable[Material]) -> Decimal | None:
    """What noted material cost: as its line of the estimate was bought, else as the catalogue has it; else None."""
    for line in lines:
        is_it = line.kind == "material" and _is_it(use, line.words, line.unit)
        if is_it and line.cost_usd is not None and line.quantity:
            return round_cents(line.cost_usd / line.quantity * Decimal(repr(use.quantity)))
    for material in catalogue:
        if _is_it(use, material.name, material.sold_unit):
            return round_cents(material.pack_cost_usd * Decimal(repr(use.quantity)))
    return None


def _discounts(revision: Revision) -> list[MarginRow]:
    """What the terms took off, as one row: what owner and insurer pay before tax, less what the lines come to."""
    content = revision.content
    lines = [line for group in content["groups"] for line in lines_from_json(group["lines"])]
    full = sum((line.amount_usd for line in lines if line.payer in BILLED), ZERO)
    payers = [part for part in content.get("payers", []) if part["payer"] in BILLED]
    paid = [Decimal(part["subtotal_usd"]) for part in payers] or [Decimal(content["totals"]["subtotal_usd"])]
    discount = sum(paid, ZERO) - full
    return [MarginRow("Discounts", Part(discount))] if discount else []


def _name(text: str) -> str:
    return " ".join(text.split()).casefold()


def _is_it(use: MaterialUse, name: str, sold_unit: str) -> bool:
    """One sheet and two sheets are counted by the same unit, and so are a stick of 8 ft and two sticks of 8 ft."""
    one, noted = _name(sold_unit), _name(use.unit)
    many = _name(count_words(2, one).removeprefix("2 "))
    return _name(use.name) == _name(name) and noted in {one, f"{one}s", many}
