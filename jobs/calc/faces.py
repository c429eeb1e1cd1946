"""The six faces of a coach, places on them, and the body plan that unfolds them like a box."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

MM_PER_M = 1000.0
# Two places this close are the same: tapped positions and typed fractions differ by less.
TOLERANCE_MM = 0.5


class Face(StrEnum):
    ROOF = "roof"
    FRONT = "front"
    REAR = "rear"
    ROAD_SIDE = "road_side"
    CURB_SIDE = "curb_side"
    FLOOR = "floor"


FACE_NAMES = {
    Face.ROOF: "roof",
    Face.FRONT: "front wall",
    Face.REAR: "rear wall",
    Face.ROAD_SIDE: "road side wall",
    Face.CURB_SIDE: "curb side wall",
    Face.FLOOR: "floor",
}


@dataclass(frozen=True)
class FaceSize:
    """A face and its size [mm]: width along `left`, height along `top`."""

    face: Face
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class Place:
    """A rectangle on a face, from that face's datum edges [mm].

    Roof, floor and sides: left is the distance from the front end. Roof and floor: top is the distance
    from the road side edge. Sides: top is the distance down from the roof edge. Front and rear: left is
    the distance from the road side edge, top the distance down from the roof edge.
    """

    face: Face
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float

    @property
    def area_m2(self) -> float:
        return self.width_mm * self.height_mm / MM_PER_M**2

    @property
    def perimeter_m(self) -> float:
        return 2 * (self.width_mm + self.height_mm) / MM_PER_M

    @property
    def long_edge_m(self) -> float:
        return max(self.width_mm, self.height_mm) / MM_PER_M


@dataclass(frozen=True)
class UnfoldedFace:
    """A face where the body plan draws it [mm]; a place maps on by x = x_mm + left_mm, y = y_mm + top_mm."""

    face: Face
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


def faces_of(*, length_mm: float, width_mm: float, height_mm: float) -> tuple[FaceSize, ...]:
    """The faces of a box-shaped body [mm]. Raises ValueError if a dimension is not above zero."""
    for name, value in [("length_mm", length_mm), ("width_mm", width_mm), ("height_mm", height_mm)]:
        if not value > 0:
            raise ValueError(f"{name} must be above 0, got {value!r}")
    sizes = {
        Face.ROOF: (length_mm, width_mm),
        Face.FRONT: (width_mm, height_mm),
        Face.REAR: (width_mm, height_mm),
        Face.ROAD_SIDE: (length_mm, height_mm),
        Face.CURB_SIDE: (length_mm, height_mm),
        Face.FLOOR: (length_mm, width_mm),
    }
    return tuple(FaceSize(face, *sizes[face]) for face in Face)


def check_place(place: Place, sizes: Sequence[FaceSize]) -> None:
    """Raise ValueError, in words for whoever marked it, unless the place lies on its face."""
    size = next(size for size in sizes if size.face == place.face)
    if not (place.width_mm > 0 and place.height_mm > 0):
        raise ValueError("The place needs a width and a height above zero.")
    over_right = place.left_mm + place.width_mm - size.width_mm
    over_bottom = place.top_mm + place.height_mm - size.height_mm
    if place.left_mm < 0 or place.top_mm < 0 or over_right > TOLERANCE_MM or over_bottom > TOLERANCE_MM:
        raise ValueError(f"The place reaches past the edge of the {FACE_NAMES[place.face]}. Check where it begins and its size.")


def unfold(
    *, length_mm: float, width_mm: float, height_mm: float, gap_mm: float = 250.0
) -> tuple[UnfoldedFace, ...]:
    """The body plan: four long faces in a column, front wall at their left end, rear wall at their right.

    Top to bottom: road side, roof, curb side, floor, each with the coach's front at the left, so the long
    faces lie as seen from outside on the curb side and roof; the road side and floor are drawn as if seen
    through the coach. Front and rear stand beside the roof, road side edge at the left. Nothing is mirrored,
    nothing overlaps, and gap_mm [mm] is left between faces.
    """
    sizes = {size.face: size for size in faces_of(length_mm=length_mm, width_mm=width_mm, height_mm=height_mm)}
    x_long = width_mm + gap_mm
    column = (Face.ROAD_SIDE, Face.ROOF, Face.CURB_SIDE, Face.FLOOR)
    tops: dict[Face, float] = {}
    y = 0.0
    for face in column:
        tops[face] = y
        y += sizes[face].height_mm + gap_mm
    middle = tops[Face.ROOF] + (width_mm - height_mm) / 2
    corners = {face: (x_long, top) for face, top in tops.items()} | {
        Face.FRONT: (0.0, middle),
        Face.REAR: (x_long + length_mm + gap_mm, middle),
    }
    return tuple(
        UnfoldedFace(face, *corners[face], sizes[face].width_mm, sizes[face].height_mm) for face in Face
    )


def plan_extent(faces: Sequence[UnfoldedFace]) -> tuple[float, float]:
    """Width and height [mm] of the whole body plan."""
    return max(face.x_mm + face.width_mm for face in faces), max(face.y_mm + face.height_mm for face in faces)


def describe_place(place: Place, size: FaceSize) -> str:
    """Where a place is, in plain words for an owner: "the roof, near the front on the road side"."""
    along = _third((place.left_mm + place.width_mm / 2) / size.width_mm)
    across = _third((place.top_mm + place.height_mm / 2) / size.height_mm)
    name = f"the {FACE_NAMES[place.face]}"
    if place.face in {Face.ROOF, Face.FLOOR}:
        parts = [
            {-1: "near the front", 0: "near the middle", 1: "near the rear"}[along],
            {-1: "on the road side", 0: "", 1: "on the curb side"}[across],
        ]
        return f"{name}, {' '.join(part for part in parts if part)}"
    height = {-1: "high up", 0: "half way up", 1: "low down"}[across]
    if place.face in {Face.FRONT, Face.REAR}:
        beside = {-1: "toward the road side", 0: "in the middle", 1: "toward the curb side"}[along]
    else:
        beside = {-1: "toward the front", 0: "in the middle", 1: "toward the rear"}[along]
    return f"{name}, {height}, {beside}"


def _third(share: float) -> int:
    """-1, 0 or 1 for the first, middle or last third."""
    return -1 if share < 1 / 3 else 1 if share > 2 / 3 else 0
