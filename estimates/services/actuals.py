"""Standard hours against the clock: what the shop's finished work suggests, taken over only by a manager."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from estimates.calc.actuals import (
    CATALOGUE_JOBS,
    MOST_HOURS,
    Finished,
    Standard,
    Suggestion,
    Variance,
    Worked,
    suggest,
    variances,
)
from estimates.models import CatalogueChange, HoursAccepted, RecipeOperation
from estimates.models.catalogue import Basis
from jobs.errors import NotNow, Stale
from jobs.models import Operation, Person, Shop
from jobs.models.work import OperationKind


@dataclass(frozen=True)
class Record:
    """One finished operation with its clocked hours [person-hours]."""

    operation: Operation
    clocked_hours: float

    @property
    def is_redo(self) -> bool:
        return self.operation.redo_of_id is not None

    @property
    def estimated_hours(self) -> float:
        return self.operation.person_hours


@dataclass(frozen=True)
class StepActuals:
    """A labour step of the catalogue beside the shop's record of it.

    variance: first runs against what was estimated for them at their time, None without any. redone: how many more
    were repeats. suggestion: from the first runs that finished since its hours were last taken over from the record.
    """

    step: RecipeOperation
    variance: Variance | None
    redone: int
    suggestion: Suggestion
    worth_jobs: int
    last_accepted: HoursAccepted | None

    @property
    def finished(self) -> int:
        return self.variance.n if self.variance else 0

    @property
    def is_new(self) -> bool:
        """Whether there is anything to take over."""
        hours = (self.suggestion.setup_hours, self.suggestion.hours_per_unit)
        return self.suggestion.n > 0 and hours != _hours_of(self.step) and any(hours)

    @property
    def hours_words(self) -> str:
        """The hours in force."""
        return self._words(*_hours_of(self.step))

    @property
    def was_words(self) -> str:
        """The hours before they were last taken over."""
        return self._words(*self.last_accepted.was) if self.last_accepted else ""

    @property
    def seen(self) -> str:
        """What was on the screen: the suggestion and how much it rests on."""
        suggested = self.suggestion
        return f"{suggested.setup_hours:.4f} {suggested.hours_per_unit:.4f} {suggested.n} {self.worth_jobs}"

    def _words(self, setup_hours: float, hours_per_unit: float) -> str:
        per = "each time" if self.step.basis == Basis.EACH else f"a {self.step.get_basis_display()}"
        parts = [(setup_hours, "for setting up"), (hours_per_unit, per)]
        return " and ".join(f"{hours:.4g} h {what}" for hours, what in parts if hours)

    @property
    def weight_words(self) -> str:
        """How far the record is drawn back toward the hours in force."""
        if not self.suggestion.n:
            return ""
        return (
            f"The record counts for {100 * self.suggestion.weight:.0f} %; "
            f"the hours in force count for the rest, as if {self.worth_jobs} jobs had taken exactly them."
        )


def read_steps(shop: Shop) -> list[StepActuals]:
    """Every labour step of the shop's catalogue, the most hours over first; in a fixed number of queries."""
    steps = _steps(shop).order_by("standard_remedy__name", "position")
    records, accepted = _records(shop), _accepted(shop)
    rows = [_row(step, records.get(step.key, []), accepted.get(step.key, [])) for step in steps]
    return sorted(rows, key=lambda row: -row.variance.over_hours if row.variance else 0.0)


@transaction.atomic
def accept_hours(*, recipe_operation_id: int, seen: str, by: Person, now: datetime) -> HoursAccepted:
    """Take suggested hours over into the catalogue, for estimates made from now on, with a lasting record.

    seen: StepActuals.seen as it was on the screen. Offers and operations already written stay as they are.
    Raises NotNow if `by` is no manager of that shop or there is nothing to take over, Stale if the record or the
    catalogue changed since.
    """
    step = RecipeOperation.objects.select_for_update(of=("self",)).select_related("standard_remedy__shop")
    found = step.get(pk=recipe_operation_id)
    if not by.is_manager or by.shop_id != found.standard_remedy.shop_id:
        raise NotNow("A manager takes hours over into the catalogue.")
    shop, key = found.standard_remedy.shop, found.key
    row = _row(found, _records(shop, key).get(key, []), _accepted(shop).get(key, []))
    if row.seen != seen:
        raise Stale("The record changed after you opened the page. Look at the new figures first.")
    if not row.is_new:
        raise NotNow("There is nothing to take over.")
    accepted = HoursAccepted.objects.create(
        shop=shop,
        recipe_key=key,
        was_setup_hours=found.setup_hours,
        was_hours_per_unit=found.hours_per_unit,
        setup_hours=row.suggestion.setup_hours,
        hours_per_unit=row.suggestion.hours_per_unit,
        n=row.suggestion.n,
        words=row.suggestion.words,
        by=by,
        at=now,
    )
    found.setup_hours, found.hours_per_unit = accepted.now
    found.is_planning_value = False
    found.save(update_fields=["setup_hours", "hours_per_unit", "is_planning_value"])
    words = f"Hours taken over from the shop's own record: {key}"
    CatalogueChange.objects.create(shop=shop, person=by, at=now, words=words[:300])
    return accepted


def _steps(shop: Shop) -> QuerySet[RecipeOperation]:
    steps = RecipeOperation.objects.select_related("standard_remedy", "skill")
    return steps.filter(standard_remedy__shop=shop, standard_remedy__is_active=True, kind=OperationKind.LABOUR)


def _records(shop: Shop, key: str = "") -> dict[str, list[Record]]:
    """Finished labour of the shop with clocked hours, by recipe step; of one step, or of all."""
    operations = Operation.objects.filter(job__shop=shop, kind=OperationKind.LABOUR, finished_at__isnull=False)
    operations = operations.filter(recipe_key=key) if key else operations.exclude(recipe_key="")
    found: dict[str, list[Record]] = defaultdict(list)
    for operation in operations.prefetch_related("spans").order_by("finished_at", "pk"):
        # Finished work has no open span left, so any moment serves for the sum.
        hours = sum(span.hours_until(span.started_at) for span in operation.spans.all())
        # Work from before the clock was kept has no hours; more than anybody can work is a slip nobody mended yet.
        if 0 < hours <= MOST_HOURS:
            found[operation.recipe_key].append(Record(operation, hours))
    return found


def _accepted(shop: Shop) -> dict[str, list[HoursAccepted]]:
    """What was taken over so far, by recipe step, oldest first."""
    found: dict[str, list[HoursAccepted]] = defaultdict(list)
    for accepted in HoursAccepted.objects.filter(shop=shop).select_related("by"):
        found[accepted.recipe_key].append(accepted)
    return found


def _row(step: RecipeOperation, records: Sequence[Record], accepted: Sequence[HoursAccepted]) -> StepActuals:
    chain = _accepted_in_force(step, accepted)
    since = chain[-1].at if chain else None
    counted = [each for each in records if since is None or _finished_at(each) > since]
    worth_jobs = CATALOGUE_JOBS + sum(each.n for each in chain)
    first_runs = [each for each in records if not each.is_redo]
    worked = [Worked(step.words, each.estimated_hours, each.clocked_hours) for each in first_runs]
    return StepActuals(
        step=step,
        variance=next(iter(variances(worked)), None),
        redone=len(records) - len(first_runs),
        suggestion=suggest(
            Standard(*_hours_of(step)), [_finished(each, step) for each in counted], catalogue_jobs=worth_jobs
        ),
        worth_jobs=worth_jobs,
        last_accepted=accepted[-1] if accepted else None,
    )


def _accepted_in_force(step: RecipeOperation, accepted: Sequence[HoursAccepted]) -> list[HoursAccepted]:
    """The unbroken run of acceptances that led to the hours in force, oldest first.

    Their jobs are in the standard already: counted again, pressing the button twice would count them twice. Hours set
    by hand since then rest on nobody's record, so the run ends there.
    """
    chain: list[HoursAccepted] = []
    hours = _hours_of(step)
    for each in reversed(accepted):
        if each.now != hours:
            break
        chain.insert(0, each)
        hours = each.was
    return chain


def _finished(record: Record, step: RecipeOperation) -> Finished:
    return Finished(record.operation.units, record.clocked_hours, step.crew, record.is_redo)


def _finished_at(record: Record) -> datetime:
    if record.operation.finished_at is None:
        raise ValueError("a record is of finished work")
    return record.operation.finished_at


def _hours_of(step: RecipeOperation) -> tuple[float, float]:
    return step.setup_hours, step.hours_per_unit
