"""What the work sheet says of cautions, agreed work by phase, hold points to sign, where the damage is. No prices."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

import segno
from django.conf import settings
from django.urls import reverse

from jobs.calc.moisture.verdict import Verdict
from jobs.models import Finding, HoldPoint, Job, Operation
from jobs.models.work import OperationKind, Phase
from jobs.papers.parts import head_of, place_row, plan_picture
from jobs.papers.rendering import png_address
from jobs.services.framing import framing_lines
from jobs.services.verdicts import cautions_at
from jobs.views.rows import cautions

# Pixels of one module of the QR code; large enough that no printer blurs its edges.
MODULE_PX = 8


@dataclass(frozen=True)
class SheetCaution:
    """What can hurt somebody in this job, and where it comes from: a remedy, booked work or findings."""

    head: str
    words: str


@dataclass(frozen=True)
class SheetOperation:
    operation: Operation
    part_of: str  # "booked work 1" or "finding 3"
    workers: str
    hold_point: HoldPoint | None

    @property
    def crew(self) -> str:
        if self.operation.kind == OperationKind.WAIT:
            return ""
        return f"{self.operation.crew} {'person' if self.operation.crew == 1 else 'people'}"

    @property
    def skill(self) -> str:
        if self.operation.kind == OperationKind.WAIT:
            return "wait until dry" if self.operation.is_drying else "wait, no hands"
        return str(self.operation.skill)


@dataclass(frozen=True)
class SheetPhase:
    name: str
    operations: tuple[SheetOperation, ...]
    hours: float  # of labour, all people together [h]


def read_work_sheet(job: Job, *, now: datetime) -> dict[str, object]:
    """All that the work sheet prints but the material, which is the estimate's to tell (estimates/papers)."""
    operations = list(
        job.operations.select_related(
            "skill", "hold_point__checked_by", "remedy__finding", "remedy__standard"
        ).prefetch_related("workers")
    )
    findings = list(job.findings.for_page().order_by("number"))
    address = page_address(job)
    return head_of(job, now=now) | {
        "framing": framing_lines(job.coach, job.shop.units),
        "cautions": _cautions(operations, findings),
        "phases": _phases(operations),
        "open_findings": [each for each in findings if not each.is_booked and _is_open(each)],
        "declined_findings": [each for each in findings if _is_declined(each)],
        "places": [place_row(each, job) for each in findings],
        "plan": plan_picture(job, findings, job.stations.in_use()),
        "stations": list(job.stations.in_use()),
        "address": address,
        "qr": png_address(qr_png(address)),
    }


def page_address(job: Job) -> str:
    """Where the technician's page of the job opens."""
    address: str = settings.SITE_URL + reverse("jobs:job-detail", args=[job.pk])
    return address


def qr_png(address: str) -> bytes:
    """A QR code of the address with its quiet zone; readable with 15 % of it dirty (level M, ISO/IEC 18004)."""
    out = BytesIO()
    segno.make(address, error="m", micro=False).save(out, kind="png", scale=MODULE_PX, border=4)
    return out.getvalue()


def _is_open(finding: Finding) -> bool:
    """The owner has not answered: not asked yet, or the question is open."""
    request = finding.current_request
    return request is None or request.closed_at is None


def _is_declined(finding: Finding) -> bool:
    """The owner's last answer was a no."""
    answers = [decision for each in finding.requests.all() if (decision := getattr(each, "decision", None))]
    return bool(answers) and not answers[-1].is_approved


def _cautions(operations: Sequence[Operation], findings: Iterable[Finding]) -> list[SheetCaution]:
    """Those of the places, what harms soonest first, then those of the remedies that are still to be done."""
    words: dict[str, str] = {}
    labels: dict[str, list[str]] = {}
    for finding in findings:
        for caution in cautions_at(finding, {Verdict(finding.verdict), finding.standing_verdict}):
            words[caution.key] = caution.words
            labels.setdefault(caution.key, []).append(finding.label)
    at_places = [SheetCaution(", ".join(labels[key]).capitalize(), text) for key, text in words.items()]
    unfinished = (each.remedy for each in operations if each.finished_at is None)
    return at_places + [SheetCaution(each.remedy, each.words) for each in cautions(unfinished)]


def _phases(operations: Iterable[Operation]) -> list[SheetPhase]:
    rows = [_row(each) for each in operations]
    by_phase = ((phase, tuple(row for row in rows if row.operation.phase == phase)) for phase in Phase)
    return [SheetPhase(str(phase.label), found, _hours(found)) for phase, found in by_phase if found]


def _hours(rows: Iterable[SheetOperation]) -> float:
    return sum(row.operation.person_hours for row in rows if row.operation.kind == OperationKind.LABOUR)


def _row(operation: Operation) -> SheetOperation:
    workers = operation.workers.all()
    return SheetOperation(
        operation=operation,
        part_of=operation.remedy.finding.label,
        workers=", ".join(each.get_full_name() or each.username for each in workers),
        hold_point=getattr(operation, "hold_point", None),
    )
