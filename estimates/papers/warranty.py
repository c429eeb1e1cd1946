"""The warranty statement: what each remedy done is covered for, and what is left out because it was declined."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.template.loader import render_to_string

from estimates.models import Revision
from estimates.papers.answers import declined, read_asked
from jobs.body_plan import work_place_words
from jobs.models import Finding, Job, Operation
from jobs.papers.parts import head_of
from jobs.papers.rendering import as_pdf


@dataclass(frozen=True)
class Covered:
    """An agreed remedy as the revision keeps it; done_at is None while any of its work is not finished."""

    finding_number: int
    label: str  # "booked work 1" or "finding 3"
    words: str
    place: str  # empty where the work is on the whole coach
    keeps: str
    warranty: str
    done_at: datetime | None


def render_warranty(job: Job, *, now: datetime) -> bytes:
    """The warranty statement as things stand now."""
    return as_pdf(render_to_string("pdf/warranty.html", read_warranty(job, now=now)))


def read_warranty(job: Job, *, now: datetime) -> dict[str, Any]:
    """All that the warranty statement prints."""
    revision = job.revisions.order_by("number").last()
    covered = _covered(job, revision) if revision else []
    return head_of(job, now=now) | {
        "revision": revision,
        "done": [each for each in covered if each.done_at],
        "undone": [each for each in covered if not each.done_at],
        "declined": declined(read_asked(job)),
    }


def _covered(job: Job, revision: Revision) -> list[Covered]:
    findings = {each.pk: each for each in job.findings.all()}
    work: dict[int, list[Operation]] = defaultdict(list)
    for operation in job.operations.select_related("remedy"):
        work[operation.remedy.finding_id].append(operation)
    return [
        _row(group, findings.get(group["finding"]), job, work[group["finding"]]) for group in revision.content["groups"]
    ]


def _row(group: dict[str, Any], finding: Finding | None, job: Job, work: list[Operation]) -> Covered:
    if finding:
        finding.job = job
    finished = [each.finished_at for each in work if each.finished_at]
    return Covered(
        finding_number=group["finding_number"],
        label=finding.label if finding else f"finding {group['finding_number']}",
        words=group["words"],
        place=work_place_words(finding, work) if finding else "",
        keeps=group["keeps"],
        warranty=group["warranty"],
        done_at=max(finished) if finished and len(finished) == len(work) else None,
    )
