"""From rows of a job to what its pages print: a fixed number of queries, whatever the number of findings."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from jobs import kinds
from jobs.body_plan import place_words
from jobs.models import ApprovalRequest, Finding, HoldPoint, Job, Operation, Person, Photo, Reaction, Remedy
from jobs.models.work import Phase
from jobs.services.work import first_blocker

PHOTOS_REACTION = "make photos ready"
PROGRAM_ERROR = re.compile(r"^\w+(Error|Exception|Warning|Exit)?: ")
STATE_MARKS = {
    "agreed at booking": "done",
    "being worked out": "running",
    "price not worked out": "refused",
    "with the owner": "waiting",
    "question taken back": "refused",
    "agreed": "done",
    "declined": "refused",
}


@dataclass(frozen=True)
class FindingRow:
    """A finding as the shop reads it."""

    finding: Finding
    place: str
    state: str
    photos: tuple[Photo, ...]
    remedy: Remedy | None
    others: tuple[Remedy, ...]
    request: ApprovalRequest | None
    price_trouble: str
    photo_trouble: str

    @property
    def mark(self) -> str:
        """The drawn sign beside the state (css: state-...)."""
        return STATE_MARKS[self.state]

    @property
    def is_priced(self) -> bool:
        """Nothing more is being worked out: booked work is priced as a whole."""
        return self.finding.is_booked or self.request is not None

    @property
    def is_settling(self) -> bool:
        """The worker is still busy with it, so the page looks again."""
        is_drawing = any(not photo.is_ready for photo in self.photos) and not self.photo_trouble
        return is_drawing or not (self.is_priced or self.price_trouble)


@dataclass(frozen=True)
class OperationRow:
    operation: Operation
    blocker: str
    workers: str
    # Who is on it at this moment; on a wait, nobody.
    on_clock: str
    is_mine: bool
    hold_point: HoldPoint | None


@dataclass(frozen=True)
class PhaseRows:
    name: str
    operations: tuple[OperationRow, ...]


@dataclass(frozen=True)
class Caution:
    remedy: str
    words: str


def finding_rows(job: Job, findings: Iterable[Finding]) -> list[FindingRow]:
    """Rows of these findings of the job, read `for_page`."""
    troubles = _troubles(job)
    return [_finding_row(finding, troubles.get(finding.pk, {})) for finding in findings]


def phase_rows(operations: Sequence[Operation], undecided: Finding | None, person: Person) -> list[PhaseRows]:
    """The agreed work, phase by phase; the operations come with hold point, skill, workers and spans."""
    rows = [_operation_row(operation, operations, undecided, person) for operation in operations]
    by_phase = ((phase, tuple(row for row in rows if row.operation.phase == phase)) for phase in Phase)
    return [PhaseRows(phase.label, found) for phase, found in by_phase if found]


def cautions(remedies: Iterable[Remedy]) -> list[Caution]:
    """What can hurt somebody in these remedies, each remedy once."""
    found = {
        remedy.standard.pk: Caution(remedy.standard.name, remedy.standard.caution)
        for remedy in remedies
        if remedy.standard and remedy.standard.caution
    }
    return list(found.values())


def caution_rows(phases: Iterable[PhaseRows], findings: Iterable[Finding]) -> tuple[list[Caution], list[Caution]]:
    """The cautions of work that runs or can start now, and those of what comes later or waits for the owner."""
    rows = [row for phase in phases for row in phase.operations if row.operation.finished_at is None]
    at_hand = cautions(row.operation.remedy for row in rows if row.operation.started_at or not row.blocker)
    asked = [
        remedy
        for finding in findings
        if any(request.closed_at is None for request in finding.requests.all())
        for remedy in finding.standing_remedies
    ]
    all_of_them = cautions([*(row.operation.remedy for row in rows), *asked])
    return at_hand, [caution for caution in all_of_them if caution not in at_hand]


def _finding_row(finding: Finding, troubles: dict[str, str]) -> FindingRow:
    request = finding.current_request
    remedies = finding.standing_remedies
    remedy = next(iter(remedies), None)
    price_trouble = next((words for name, words in troubles.items() if name != PHOTOS_REACTION), "")
    return FindingRow(
        finding=finding,
        place=place_words(finding),
        state=_state(finding, request, price_trouble),
        photos=tuple(finding.photos.all()),
        remedy=remedy,
        others=tuple(remedies[1:]),
        request=request,
        price_trouble="" if request else price_trouble,
        photo_trouble=troubles.get(PHOTOS_REACTION, ""),
    )


def _state(finding: Finding, request: ApprovalRequest | None, price_trouble: str) -> str:
    if finding.is_booked:
        return "agreed at booking"
    if request is None:
        return "price not worked out" if price_trouble else "being worked out"
    if request.closed_at is None:
        return "with the owner"
    decision = getattr(request, "decision", None)
    if decision is None:
        return "question taken back"
    return "agreed" if decision.is_approved else "declined"


def _troubles(job: Job) -> dict[int, dict[str, str]]:
    """For each finding of the job: which answers to its posting or adjusting were given up, and why."""
    told = Reaction.objects.filter(
        entry__job=job, entry__kind__in=[kinds.FINDING_POSTED, kinds.PHOTOS_ADDED, kinds.REMEDIES_ADJUSTED]
    ).select_related("entry")
    found: dict[int, dict[str, str]] = {}
    for reaction in told.order_by("entry__number"):
        data: dict[str, Any] = reaction.entry.data
        troubles = found.setdefault(data["finding"], {})
        if reaction.state == Reaction.State.GIVEN_UP:
            troubles[reaction.name] = _plain(reaction.last_error)
        elif reaction.entry.kind == kinds.REMEDIES_ADJUSTED:
            # Adjusted since: what failed before is tried anew.
            troubles.pop(reaction.name, None)
    return found


def _plain(error: str) -> str:
    """The reason in words for the shop; what a program says to itself stays in the log."""
    return "Something went wrong in the program." if not error or PROGRAM_ERROR.match(error) else error


def _operation_row(
    operation: Operation, operations: Sequence[Operation], undecided: Finding | None, person: Person
) -> OperationRow:
    is_waiting = operation.started_at is None
    on_clock = [span.person for span in operation.spans.all() if span.ended_at is None]
    return OperationRow(
        operation=operation,
        blocker=first_blocker(operation, operations, undecided) if is_waiting else "",
        workers=_names(operation.workers.all()),
        on_clock=_names(on_clock),
        is_mine=any(worker.pk == person.pk for worker in on_clock),
        hold_point=getattr(operation, "hold_point", None),
    )


def _names(people: Iterable[Person]) -> str:
    return ", ".join(person.get_full_name() or person.username for person in people)
