"""The body plan of a coach with marks on it: rows ready to draw (templates/parts/body_plan.html)."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from jobs.calc.faces import FACE_NAMES, Face, FaceSize, Place, UnfoldedFace, describe_place, plan_extent, unfold
from jobs.models import Coach, Finding, Operation, Station
from jobs.models.work import Phase

# Of the coach's width: large enough to read on a phone, small enough to stand inside the shortest face.
LABEL_SHARE = 0.11
# Half the size of a station's mark, of the coach's width.
SPOT_SHARE = 0.06


@dataclass(frozen=True)
class PlanFace:
    face: str
    name: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    label_x_mm: float
    label_y_mm: float
    label_size_mm: float


@dataclass(frozen=True)
class PlanMark:
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    number: int
    words: str
    url: str | None


@dataclass(frozen=True)
class PlanSpot:
    """A station: where its number stands on the plan."""

    x_mm: float
    y_mm: float
    radius_mm: float
    number: int
    words: str


@dataclass(frozen=True)
class BodyPlan:
    width_mm: float
    height_mm: float
    faces: tuple[PlanFace, ...]
    marks: tuple[PlanMark, ...]
    spots: tuple[PlanSpot, ...] = ()


def draw_plan(coach: Coach, marks: Iterable[tuple[Finding, str | None]], stations: Iterable[Station] = ()) -> BodyPlan:
    """The coach unfolded, with findings and stations marked; the text beside a finding is where it leads to."""
    unfolded = unfold(length_mm=coach.length_mm, width_mm=coach.width_mm, height_mm=coach.height_mm)
    width_mm, height_mm = plan_extent(unfolded)
    by_face = {each.face: each for each in unfolded}
    return BodyPlan(
        width_mm=width_mm,
        height_mm=height_mm,
        faces=tuple(_face(each, coach.width_mm * LABEL_SHARE) for each in unfolded),
        marks=tuple(_mark(finding, url, by_face[Face(finding.face)]) for finding, url in marks),
        spots=tuple(_spot(each, by_face[Face(each.face)], coach.width_mm * SPOT_SHARE) for each in stations),
    )


def place_words(finding: Finding) -> str:
    """Where the finding is, in plain words."""
    return describe_place(finding.place, face_size(finding.job.coach, finding.face))


def work_place_words(finding: Finding, operations: Collection[Operation]) -> str:
    """Where agreed work is done, in plain words; empty for the final check, which is of the whole coach."""
    if operations and all(each.phase == Phase.FINAL_CHECK for each in operations):
        return ""
    return place_words(finding)


def spot_words(station: Station, coach: Coach) -> str:
    """Where a station is, in plain words."""
    spot = Place(Face(station.face), station.left_mm, station.top_mm, 1.0, 1.0)
    return describe_place(spot, face_size(coach, station.face))


def face_size(coach: Coach, face: str) -> FaceSize:
    return next(size for size in coach.faces() if size.face == face)


def _face(unfolded: UnfoldedFace, label_size_mm: float) -> PlanFace:
    return PlanFace(
        face=unfolded.face.value,
        name=FACE_NAMES[unfolded.face],
        x_mm=unfolded.x_mm,
        y_mm=unfolded.y_mm,
        width_mm=unfolded.width_mm,
        height_mm=unfolded.height_mm,
        label_x_mm=unfolded.x_mm + unfolded.width_mm / 2,
        label_y_mm=unfolded.y_mm + unfolded.height_mm / 2,
        label_size_mm=label_size_mm,
    )


def _mark(finding: Finding, url: str | None, on: UnfoldedFace) -> PlanMark:
    place: Place = finding.place
    return PlanMark(
        x_mm=on.x_mm + place.left_mm,
        y_mm=on.y_mm + place.top_mm,
        width_mm=place.width_mm,
        height_mm=place.height_mm,
        number=finding.number,
        words=f"{finding.get_kind_display()}, {FACE_NAMES[on.face]}",
        url=url,
    )


def _spot(station: Station, on: UnfoldedFace, radius_mm: float) -> PlanSpot:
    return PlanSpot(
        x_mm=on.x_mm + station.left_mm,
        y_mm=on.y_mm + station.top_mm,
        radius_mm=radius_mm,
        number=station.number,
        words=f"{station.get_layer_display()}, {FACE_NAMES[on.face]}",
    )
