"""The condition report: every finding with its place, evidence, verdict and photos, and how the wood reads."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.template.loader import render_to_string

from jobs.calc.moisture.limits import Limits
from jobs.calc.moisture.verdict import VERDICT_WORDS, Judgement
from jobs.drying_sheet import StationRow, read_drying
from jobs.models import Finding, Job, Photo, Station
from jobs.papers.parts import (
    PaperPhoto,
    PlaceRow,
    evidence_rows,
    head_of,
    paper_photo,
    place_row,
    plan_picture,
    stored_bytes,
)
from jobs.papers.rendering import as_pdf
from jobs.photos import render
from jobs.services.verdicts import judge_finding, read_stations, remaining_of, stations_at

# A photo is printed 86 mm wide: about 300 dots an inch.
PAPER_PHOTO_PX = 1000


@dataclass(frozen=True)
class ReportFinding:
    finding: Finding
    place: PlaceRow
    evidence: tuple[tuple[str, str], ...]
    judgement: Judgement
    computed_words: str
    remaining: str
    stations: tuple[StationRow, ...]
    photo_rows: tuple[tuple[PaperPhoto, ...], ...]  # two side by side


def render_condition_report(job: Job, *, now: datetime) -> bytes:
    """The condition report as things stand now; one paper a time is drawn, the photos made small for it."""
    return as_pdf(render_to_string("pdf/condition_report.html", read_condition(job, now=now)))


def read_condition(job: Job, *, now: datetime) -> dict[str, object]:
    """All that the condition report prints."""
    sheet = read_drying(job, now=now)
    read = read_stations(job)
    rows = {row.station.pk: row for row in sheet.stations}
    findings = list(job.findings.for_page().order_by("number"))
    return head_of(job, now=now) | {
        "findings": [_report(each, job, read, rows, sheet.limits) for each in findings],
        "plan": plan_picture(job, findings, job.stations.in_use()),
        "stations": sheet.stations,
        "summary": sheet.summary,
        "sheet": sheet,
    }


def _report(
    finding: Finding, job: Job, read: Sequence[Station], rows: dict[int, StationRow], limits: Limits
) -> ReportFinding:
    place = place_row(finding, job)
    judgement = judge_finding(finding, read, limits)
    return ReportFinding(
        finding=finding,
        place=place,
        evidence=tuple(evidence_rows(finding)),
        judgement=judgement,
        computed_words=VERDICT_WORDS[judgement.verdict],
        remaining=remaining_of(finding),
        stations=tuple(rows[each.pk] for each in stations_at(finding, read)),
        photo_rows=_in_pairs([_photo(each, finding) for each in finding.photos.all()]),
    )


def _in_pairs(photos: Iterable[PaperPhoto]) -> tuple[tuple[PaperPhoto, ...], ...]:
    all_of_them = list(photos)
    return tuple(tuple(all_of_them[start : start + 2]) for start in range(0, len(all_of_them), 2))


def _photo(photo: Photo, finding: Finding) -> PaperPhoto:
    """The large rendition, made small for paper."""
    return paper_photo(photo, finding, lambda: render(stored_bytes(photo.large), long_side_px=PAPER_PHOTO_PX))
