"""What several papers show: the head of the job, the places on the body plan, the evidence and photos of a finding."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models.fields.files import FieldFile
from django.template.loader import render_to_string

from jobs.body_plan import draw_plan, place_words
from jobs.calc.lengths import print_length
from jobs.models import Finding, Job, Photo, Station
from jobs.papers.rendering import jpeg_address, svg_address
from jobs.photos import PhotoRefused

# Of the plan's longer side: an ink line of about 0.25 mm where the plan fills the width of a sheet.
LINE_SHARE = 1 / 700
# The names of the faces are larger on paper than on a screen, where the plan can be enlarged.
LABEL_TIMES = 1.3


@dataclass(frozen=True)
class PlaceRow:
    """A finding's place in words and in the shop's lengths from the face's datum edges."""

    finding: Finding
    words: str
    left: str
    top: str
    width: str
    height: str


@dataclass(frozen=True)
class PlanPicture:
    """The body plan with findings and stations marked, and what it shows in words."""

    address: str
    words: str


@dataclass(frozen=True)
class PaperPhoto:
    """A photo ready to print, or the words that stand in its place."""

    number: int
    words: str
    address: str
    trouble: str
    taken_at: datetime | None


def head_of(job: Job, *, now: datetime) -> dict[str, Any]:
    """What the head of every paper prints."""
    return {
        "job": job,
        "shop": job.shop,
        "now": now,
        "owners": [each.owner for each in job.coach.ownerships.select_related("owner").order_by("pk")],
    }


def place_row(finding: Finding, job: Job) -> PlaceRow:
    """Where the finding is. The finding comes with this job, so that nothing is read again."""
    finding.job = job
    units = job.shop.units
    lengths = (finding.left_mm, finding.top_mm, finding.width_mm, finding.height_mm)
    return PlaceRow(finding, place_words(finding), *(print_length(each, units=units) for each in lengths))


def plan_picture(job: Job, findings: Sequence[Finding], stations: Iterable[Station] = ()) -> PlanPicture:
    """The coach unfolded, drawn for paper: its lines are as thin as ink on a sheet, whatever the coach's length."""
    plan = draw_plan(job.coach, [(each, None) for each in findings], stations)
    line_mm = max(plan.width_mm, plan.height_mm) * LINE_SHARE
    drawing = render_to_string(
        "pdf/_plan.svg",
        {
            "plan": plan,
            "line_mm": line_mm,
            "thick_mm": 2 * line_mm,
            # Room for half of the outermost lines.
            "edge_mm": -line_mm,
            "width_mm": plan.width_mm + 2 * line_mm,
            "height_mm": plan.height_mm + 2 * line_mm,
            "label_mm": plan.faces[0].label_size_mm * LABEL_TIMES,
        },
    )
    marked = [f"{mark.number}: {mark.words}" for mark in plan.marks]
    spots = [f"station {spot.number}: {spot.words}" for spot in plan.spots]
    words = "The faces of the coach unfolded, front to the left."
    return PlanPicture(svg_address(drawing), " ".join([words, *(f"{each}." for each in marked + spots)]))


def evidence_rows(finding: Finding) -> list[tuple[str, str]]:
    """What was measured and seen at a finding, as label and words; only what somebody noted."""
    units = finding.job.shop.units
    said: list[tuple[str, str]] = []
    if finding.is_wet is not None:
        said.append(("To the hand", "wet" if finding.is_wet else "dry"))
    if finding.moisture_pct is not None:
        said.append(("Meter", f"{finding.moisture_pct:g} %"))
    if finding.probe_depth_mm is not None:
        said.append(("Probe sinks in", print_length(finding.probe_depth_mm, units=units)))
    said += [
        ("Sounds", str(finding.get_tap_sound_display()) if finding.tap_sound else ""),
        ("Looks", str(finding.get_look_display()) if finding.look else ""),
        ("Part", str(finding.get_member_display()) if finding.member else ""),
    ]
    if finding.member_thickness_mm is not None:
        said.append(("Thickness", print_length(finding.member_thickness_mm, units=units)))
    near = [words for words, is_near in _near(finding) if is_near]
    return [*((label, words) for label, words in said if words), *([("Close by", ", ".join(near))] if near else [])]


def paper_photo(photo: Photo, finding: Finding, jpeg: Callable[[], bytes]) -> PaperPhoto:
    """A photo as `jpeg` gives it. One that cannot be had is said, and stops nothing."""
    address, trouble = "", ""
    if not photo.is_ready:
        trouble = "is still being made ready"
    else:
        try:
            address = jpeg_address(jpeg())
        except (OSError, PhotoRefused):
            trouble = "cannot be read"
    words = f"Photo {photo.position} of {finding.label}: {finding.get_kind_display()}"
    return PaperPhoto(photo.position, words, address, trouble, photo.taken_at)


def stored_bytes(rendition: FieldFile) -> bytes:
    """A rendition as it is stored. Raises OSError if it cannot be read."""
    with rendition.open("rb") as file:
        content: bytes = file.read()
    return content


def _near(finding: Finding) -> list[tuple[str, bool]]:
    return [("mains wiring", finding.is_near_mains), ("a gas line", finding.is_near_gas)]
