"""What a place on a face measures, what framing it crosses, and how far a cut goes back to land on framing.

Places and faces are taken by their shape alone: anything with these sizes [mm] will do, so `jobs.calc.faces.Place`
and `FaceSize` do.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

MM2_PER_M2 = 1_000_000.0
# A start and a size, each typed to the nearest 1/16 in, may together be 1.6 mm off a true edge or member.
TOLERANCE_MM = 2.0
LONGEST_MM = 30_000.0
NARROWEST_SPACING_MM = 25.0


class Rectangular(Protocol):
    """A rectangle on a face [mm]: left along its width, top along its height, from its datum edges."""

    @property
    def left_mm(self) -> float: ...
    @property
    def top_mm(self) -> float: ...
    @property
    def width_mm(self) -> float: ...
    @property
    def height_mm(self) -> float: ...


class Sized(Protocol):
    """A face by its size [mm]."""

    @property
    def width_mm(self) -> float: ...
    @property
    def height_mm(self) -> float: ...


class Side(StrEnum):
    LEFT = "left"
    RIGHT = "right"
    TOP = "top"
    BOTTOM = "bottom"


class Run(StrEnum):
    """Which way members or strips run: ALONG the face's width (`left`), or ACROSS it, along its height (`top`)."""

    ALONG = "along"
    ACROSS = "across"


@dataclass(frozen=True)
class Rectangle:
    """A rectangle on a face [mm]."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float

    @property
    def area_m2(self) -> float:
        return self.width_mm * self.height_mm / MM2_PER_M2


@dataclass(frozen=True)
class Edge:
    """One side of a place, and whether it lies on the face's own edge."""

    side: Side
    length_mm: float
    is_on_face_edge: bool


@dataclass(frozen=True)
class Measured:
    """What a place measures. edges: left, right, top, bottom."""

    area_m2: float
    edges: tuple[Edge, Edge, Edge, Edge]

    @property
    def perimeter_mm(self) -> float:
        return sum(edge.length_mm for edge in self.edges)

    @property
    def face_edge_mm(self) -> float:
        """How much of its edge is the face's own: there a cover is wrapped over or trimmed."""
        return sum(edge.length_mm for edge in self.edges if edge.is_on_face_edge)

    @property
    def inner_edge_mm(self) -> float:
        """How much of its edge meets what stays: there a patch is joined."""
        return self.perimeter_mm - self.face_edge_mm


@dataclass(frozen=True)
class Members:
    """Evenly spaced framing of a face [mm]: centre lines at first_member_mm, then every spacing_mm.

    run: which way the members themselves run; they are counted from the datum edge at right angles to that.
    member_mm: how wide a member is, seen on the face; 0 counts centre lines only.
    """

    spacing_mm: float
    first_member_mm: float
    run: Run
    member_mm: float = 0.0


@dataclass(frozen=True)
class Crossed:
    """A member in a place [mm]: its centre line from the datum edge, and how long it is inside the place."""

    at_mm: float
    length_mm: float


@dataclass(frozen=True)
class Extended:
    """A place cut back to framing: what is cut out, and how far it grew before and after [mm] across the members."""

    cut: Rectangle
    before_mm: float
    after_mm: float


def measure(place: Rectangular, face: Sized) -> Measured:
    """Area and edges of a place; an edge within 2 mm of the face's edge lies on it.

    Raises ValueError if the place has no size or reaches off the face by more than that.
    """
    _check_place(place, face)
    right_mm, bottom_mm = place.left_mm + place.width_mm, place.top_mm + place.height_mm
    edges = (
        Edge(Side.LEFT, place.height_mm, place.left_mm <= TOLERANCE_MM),
        Edge(Side.RIGHT, place.height_mm, right_mm >= face.width_mm - TOLERANCE_MM),
        Edge(Side.TOP, place.width_mm, place.top_mm <= TOLERANCE_MM),
        Edge(Side.BOTTOM, place.width_mm, bottom_mm >= face.height_mm - TOLERANCE_MM),
    )
    return Measured(place.width_mm * place.height_mm / MM2_PER_M2, edges)


def member_lines_mm(face: Sized, members: Members) -> tuple[float, ...]:
    """Centre lines of the members of a face [mm], counted across their run.

    Raises ValueError for a spacing outside 25 mm to 30 m, a first member off the face, or members wider than spaced.
    """
    extent_mm = face.height_mm if members.run == Run.ALONG else face.width_mm
    if not NARROWEST_SPACING_MM <= members.spacing_mm <= LONGEST_MM:
        raise ValueError(f"spacing_mm must be {NARROWEST_SPACING_MM:g} to {LONGEST_MM:g}, got {members.spacing_mm!r}")
    if not 0 <= members.first_member_mm <= extent_mm:
        raise ValueError(f"first_member_mm must be 0 to {extent_mm:g}, got {members.first_member_mm!r}")
    if not 0 <= members.member_mm <= members.spacing_mm:
        raise ValueError(f"member_mm must be 0 to {members.spacing_mm:g}, got {members.member_mm!r}")
    count = math.floor((extent_mm - members.first_member_mm + TOLERANCE_MM) / members.spacing_mm) + 1
    return tuple(min(members.first_member_mm + number * members.spacing_mm, extent_mm) for number in range(count))


def members_crossed(place: Rectangular, face: Sized, members: Members) -> tuple[Crossed, ...]:
    """The members of which some of the width lies in the place, with the length of each inside it [mm].

    The face's own edges count only where a member stands there. Raises ValueError as measure and member_lines_mm do.
    """
    _check_place(place, face)
    start_mm, size_mm, length_mm = _across_and_along(place, members.run)
    half_mm = members.member_mm / 2
    return tuple(
        Crossed(line_mm, length_mm)
        for line_mm in member_lines_mm(face, members)
        if start_mm <= line_mm + half_mm and line_mm - half_mm <= start_mm + size_mm
    )


def extend_to_members(place: Rectangular, face: Sized, members: Members) -> Extended:
    """The place grown across the members until both its edges land on a centre line or on the face's own edge.

    So a patch has framing under its edge, as rot is cut back to the nearest members (common practice, no source). An
    edge within 2 mm of a centre line has landed. It never shrinks, and never leaves the face.
    Raises ValueError as measure and member_lines_mm do.
    """
    _check_place(place, face)
    start_mm, size_mm, _ = _across_and_along(place, members.run)
    extent_mm = face.height_mm if members.run == Run.ALONG else face.width_mm
    start_mm, end_mm = max(0.0, start_mm), min(extent_mm, start_mm + size_mm)
    lines_mm = (0.0, *member_lines_mm(face, members), extent_mm)
    from_mm = min(start_mm, max(line for line in lines_mm if line <= start_mm + TOLERANCE_MM))
    to_mm = max(end_mm, min(line for line in lines_mm if line >= end_mm - TOLERANCE_MM))
    return Extended(_cut(place, face, members.run, from_mm, to_mm), start_mm - from_mm, to_mm - end_mm)


def _cut(place: Rectangular, face: Sized, run: Run, from_mm: float, to_mm: float) -> Rectangle:
    if run == Run.ALONG:
        left_mm = max(0.0, place.left_mm)
        width_mm = min(face.width_mm, place.left_mm + place.width_mm) - left_mm
        return Rectangle(left_mm, from_mm, width_mm, to_mm - from_mm)
    top_mm = max(0.0, place.top_mm)
    height_mm = min(face.height_mm, place.top_mm + place.height_mm) - top_mm
    return Rectangle(from_mm, top_mm, to_mm - from_mm, height_mm)


def _across_and_along(place: Rectangular, run: Run) -> tuple[float, float, float]:
    """Where the place starts across the members, its size that way, and its size along them [mm]."""
    if run == Run.ALONG:
        return place.top_mm, place.height_mm, place.width_mm
    return place.left_mm, place.width_mm, place.height_mm


def _check_place(place: Rectangular, face: Sized) -> None:
    for axis, start_mm, size_mm, extent_mm in [
        ("width_mm", place.left_mm, place.width_mm, face.width_mm),
        ("height_mm", place.top_mm, place.height_mm, face.height_mm),
    ]:
        if not 0 < extent_mm <= LONGEST_MM:
            raise ValueError(f"{axis} of the face must be above 0, to {LONGEST_MM:g}, got {extent_mm!r}")
        if not 0 < size_mm <= extent_mm + TOLERANCE_MM:
            raise ValueError(f"{axis} of the place must be above 0, to {extent_mm:g} as the face, got {size_mm!r}")
        if not -TOLERANCE_MM <= start_mm <= extent_mm + TOLERANCE_MM - size_mm:
            start = {"width_mm": "left_mm", "height_mm": "top_mm"}[axis]
            raise ValueError(f"{start} of the place must be 0 to {extent_mm - size_mm:g}, got {start_mm!r}")
