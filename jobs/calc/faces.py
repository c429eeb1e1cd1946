"""The six faces of a coach, places on them, and the body plan that unfolds them like a box."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

MM_PER_M = 1000.0
# A start and a size, each typed to the nearest 1/16 in, may together reach 1.6 mm past a true edge.
TOLERANCE_MM = 2.0
# A spot this near speaks for a place: about a hand's width. Planning assumption, no source.
HAND_MM = 150.0
# From this share of a face on, a place covers it; from this share of an edge on, it runs along most of it.
WHOLE_SHARE = 0.9
MOST_SHARE = 2 / 3


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

    def holds(self, face: str, left_mm: float, top_mm: float, *, margin_mm: float = HAND_MM) -> bool:
        """Whether a spot lies in the place, or within margin_mm [mm] of it on the same face."""
        return (
            face == self.face
            and -margin_mm <= left_mm - self.left_mm <= self.width_mm + margin_mm
            and -margin_mm <= top_mm - self.top_mm <= self.height_mm + margin_mm
        )

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
    """The faces of a box-shaped body [mm]. Raises ValueError unless every dimension is a number above zero."""
    for name, value in [("length_mm", length_mm), ("width_mm", width_mm), ("height_mm", height_mm)]:
        if not 0 < value < math.inf:
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
    size = {size.face: size for size in sizes}[place.face]
    name = FACE_NAMES[place.face]
    # "not above" rather than "at or below", so that what is no number is refused too.
    if not (place.width_mm > 0 and place.height_mm > 0):
        raise ValueError("The place needs a width and a height above zero.")
    if not (place.left_mm >= 0 and place.top_mm >= 0):
        raise ValueError(f"The place begins before the edge of the {name}. Check where it begins.")
    ends = [(place.left_mm + place.width_mm, size.width_mm), (place.top_mm + place.height_mm, size.height_mm)]
    if not all(end_mm <= edge_mm + TOLERANCE_MM for end_mm, edge_mm in ends):
        raise ValueError(f"The place reaches past the edge of the {name}. Check where it begins and its size.")


def covered_m2(places: Sequence[Place]) -> float:
    """Area [m2] that these places cover together; where they lie over each other it counts once, face by face."""
    return sum(_covered_mm2([each for each in places if each.face == face]) for face in Face) / MM_PER_M**2


def _covered_mm2(places: Sequence[Place]) -> float:
    """The area of a union of rectangles: strip by strip between their left and right edges."""
    edges = sorted({x for each in places for x in (each.left_mm, each.left_mm + each.width_mm)})
    total = 0.0
    for left, right in pairwise(edges):
        spans = sorted(
            (each.top_mm, each.top_mm + each.height_mm)
            for each in places
            if each.left_mm < right and each.left_mm + each.width_mm > left
        )
        total += (right - left) * _length_of(spans)
    return total


def _length_of(spans: Sequence[tuple[float, float]]) -> float:
    """How much of a line these sorted spans cover."""
    total, end = 0.0, -math.inf
    for top, bottom in spans:
        total += max(0.0, bottom - max(top, end))
        end = max(end, bottom)
    return total


def unfold(*, length_mm: float, width_mm: float, height_mm: float, gap_mm: float = 250.0) -> tuple[UnfoldedFace, ...]:
    """The body plan [mm]: the long faces in a column with the front at the left, the end walls in a row below.

        road side   left = front end, top = roof edge
        roof        left = front end, top = road side edge
        curb side   left = front end, top = roof edge
        floor       left = front end, top = road side edge
        front, rear left = road side edge, top = roof edge; at the left and the right end of the last row

    No face is turned or mirrored against its place coordinates: x = x_mm + left_mm, y = y_mm + top_mm. So all
    walls stand upright, and the roof lies with the road side up, next to the road side wall. Where traffic keeps
    right, that shows road side and rear as seen from outside, and curb side, front, roof and floor as seen from
    inside the coach (the roof by looking up, the floor as if from below); where traffic keeps left, the other
    way round. The end walls below rather than beside the column let the long faces use a phone's whole width.
    gap_mm [mm] is left between faces; none overlap.
    """
    sizes = {size.face: size for size in faces_of(length_mm=length_mm, width_mm=width_mm, height_mm=height_mm)}
    if not 0 <= gap_mm < math.inf:
        raise ValueError(f"gap_mm must be 0 or more, got {gap_mm!r}")
    corners: dict[Face, tuple[float, float]] = {}
    top = 0.0
    for face in (Face.ROAD_SIDE, Face.ROOF, Face.CURB_SIDE, Face.FLOOR):
        corners[face] = (0.0, top)
        top += sizes[face].height_mm + gap_mm
    corners[Face.FRONT] = (0.0, top)
    # A coach shorter than both end walls side by side has its rear wall pushed out.
    corners[Face.REAR] = (max(length_mm - width_mm, width_mm + gap_mm), top)
    return tuple(UnfoldedFace(face, *corners[face], sizes[face].width_mm, sizes[face].height_mm) for face in Face)


def plan_extent(faces: Sequence[UnfoldedFace]) -> tuple[float, float]:
    """Width and height [mm] of the whole body plan."""
    return max(face.x_mm + face.width_mm for face in faces), max(face.y_mm + face.height_mm for face in faces)


def describe_place(place: Place, size: FaceSize) -> str:
    """Where a place is, in plain words for an owner: "the roof, near the front on the road side".

    Each edge is taken in thirds by the middle of the place; what covers nearly all of a face, or runs along most
    of an edge, says so instead.
    """
    name = f"the {FACE_NAMES[place.face]}"
    along = _part(place.left_mm, place.width_mm, size.width_mm)
    across = _part(place.top_mm, place.height_mm, size.height_mm)
    if along == across == "most":
        covered = place.width_mm * place.height_mm / (size.width_mm * size.height_mm)
        return f"the whole {FACE_NAMES[place.face]}" if covered >= WHOLE_SHARE else f"most of {name}"
    if place.face in {Face.ROOF, Face.FLOOR}:
        return f"{name}, {_flat_words(along, across)}"
    ends = _END_WALL_WORDS if place.face in {Face.FRONT, Face.REAR} else _SIDE_WALL_WORDS
    return f"{name}, {_HEIGHT_WORDS[across]}, {ends[along]}"


_HEIGHT_WORDS = {
    "first": "high up",
    "middle": "halfway up",
    "last": "low down",
    "most": "over most of the height",
}
_SIDE_WALL_WORDS = {
    "first": "toward the front",
    "middle": "in the middle",
    "last": "toward the rear",
    "most": "along most of the length",
}
_END_WALL_WORDS = {
    "first": "toward the road side",
    "middle": "in the middle",
    "last": "toward the curb side",
    "most": "across most of the width",
}
_ALONG_WORDS = {
    "first": "near the front",
    "middle": "midway along",
    "last": "near the rear",
    "most": "along most of the length",
}
_ACROSS_WORDS = {
    "first": "on the road side",
    "middle": "in the middle",
    "last": "on the curb side",
    "most": "across most of the width",
}


def _flat_words(along: str, across: str) -> str:
    if along == across == "middle":
        return "in the middle"
    return f"{_ALONG_WORDS[along]} {_ACROSS_WORDS[across]}"


def _part(start_mm: float, size_mm: float, edge_mm: float) -> str:
    """The third of an edge that holds the middle of a stretch, or "most" where it covers two of them."""
    if size_mm >= edge_mm * MOST_SHARE:
        return "most"
    middle = (start_mm + size_mm / 2) / edge_mm
    return "first" if middle < 1 / 3 else "last" if middle > 2 / 3 else "middle"
