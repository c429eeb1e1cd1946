"""What is worked on at a place: as found, cut back to the nearest members, or the whole length of its members."""

from dataclasses import dataclass
from enum import StrEnum

from estimates.calc.geometry import (
    TOLERANCE_MM,
    Crossed,
    Edge,
    Measured,
    Members,
    Rectangle,
    Rectangular,
    Run,
    Sized,
    extend_to_members,
    measure,
    members_crossed,
)
from estimates.calc.takeoff import size_words, span_words

# No wider than this along the members, a place lies on one rail (header, sill, plate) that runs across them.
# 12 in: common practice, no source.
RAIL_MM = 304.8
# How wide a member is taken to be, seen on the face: 1 1/2 in, the dressed size of a nominal 2 in (PS 20).
MEMBER_MM = 38.1


class Extent(StrEnum):
    PLACE = "place"
    MEMBERS = "members"
    WHOLE = "whole"


@dataclass(frozen=True)
class Site:
    """A place on its face, with the members behind it. is_assumed: their spacing is a planning assumption.

    is_on_rail: whether what is worked on is a rail across the members; None: to be told by the place's shape.
    joints: between sticks, in what is cut for this place; known once its sticks are.
    """

    place: Rectangular
    face: Sized
    members: Members
    is_assumed: bool
    units: str
    is_on_rail: bool | None = None
    joints: int = 0


@dataclass(frozen=True)
class Cut:
    """What is worked on: its rectangle, what that measures, and the members or the one rail it takes in.

    words: "2 ft 8 in × 4 ft", and how it came to that if it grew. inner_mm: members inside, not those under its edges.
    assumed: "16 in apart, assumed" where the members are and `words` does not say so; empty otherwise.
    """

    rectangle: Rectangle
    measured: Measured
    members: tuple[Crossed, ...]
    inner_mm: tuple[float, ...]
    run: Run
    is_rail: bool
    words: str
    units: str
    assumed: str = ""
    joints: int = 0

    @property
    def members_mm(self) -> float:
        """How much of its members is worked on, all of them one after the other."""
        return sum(each.length_mm for each in self.members)

    @property
    def long_edge_mm(self) -> float:
        return max(self.rectangle.width_mm, self.rectangle.height_mm)

    @property
    def size_words(self) -> str:
        """ "2 ft 8 in × 4 ft"."""
        return _size_words(self.rectangle, self.units)

    @property
    def inner_edges(self) -> tuple[Edge, ...]:
        """The edges that meet what stays."""
        return tuple(edge for edge in self.measured.edges if not edge.is_on_face_edge)


def cut_at(site: Site, extent: str) -> Cut:
    """What an extent makes of a place. It never shrinks and never leaves the face.

    Members: those that lie in it. A place of a finding always has one, so where none is crossed by the spacing one is
    counted; on a rail there is the rail alone. Raises ValueError for an unknown extent and as geometry.measure does.
    """
    extent, members = Extent(extent), site.members
    is_rail = _is_rail(site) if site.is_on_rail is None else site.is_on_rail
    rectangle = _rectangle(site, extent, is_rail=is_rail)
    measured = measure(rectangle, site.face)
    starts_mm, size_mm, along_mm = _across(rectangle, members.run)
    if is_rail:
        crossed: tuple[Crossed, ...] = (Crossed(starts_mm, size_mm),)
    else:
        found = members_crossed(rectangle, site.face, members)
        crossed = found or (Crossed(starts_mm + size_mm / 2, along_mm),)
    inner_mm = tuple(
        each.at_mm
        for each in members_crossed(rectangle, site.face, members)
        if starts_mm + TOLERANCE_MM < each.at_mm < starts_mm + size_mm - TOLERANCE_MM
    )
    return Cut(
        rectangle,
        measured,
        crossed,
        inner_mm,
        members.run,
        is_rail,
        words=_words(site, extent, rectangle, is_rail=is_rail),
        units=site.units,
        assumed=f"{_apart(site)}, assumed" if site.is_assumed and extent != Extent.MEMBERS and not is_rail else "",
        joints=site.joints,
    )


def _is_rail(site: Site) -> bool:
    _, across_mm, along_mm = _across(site.place, site.members.run)
    return along_mm <= RAIL_MM and across_mm > along_mm


def _rectangle(site: Site, extent: Extent, *, is_rail: bool) -> Rectangle:
    place, face = site.place, site.face
    measure(place, face)  # refuses what does not lie on the face
    left_mm, top_mm = max(0.0, place.left_mm), max(0.0, place.top_mm)
    as_found = Rectangle(
        left_mm,
        top_mm,
        min(face.width_mm, place.left_mm + place.width_mm) - left_mm,
        min(face.height_mm, place.top_mm + place.height_mm) - top_mm,
    )
    if extent == Extent.PLACE:
        return as_found
    if extent == Extent.MEMBERS:
        return extend_to_members(place, face, site.members).cut
    runs_along = (site.members.run == Run.ALONG) != is_rail
    if runs_along:
        return Rectangle(0.0, as_found.top_mm, face.width_mm, as_found.height_mm)
    return Rectangle(as_found.left_mm, 0.0, as_found.width_mm, face.height_mm)


def _across(place: Rectangular, run: Run) -> tuple[float, float, float]:
    """Where a rectangle starts across the members, its size that way, and its size along them [mm]."""
    if run == Run.ALONG:
        return place.top_mm, place.height_mm, place.width_mm
    return place.left_mm, place.width_mm, place.height_mm


def _words(site: Site, extent: Extent, rectangle: Rectangle, *, is_rail: bool) -> str:
    size = _size_words(rectangle, site.units)
    if extent == Extent.PLACE:
        return size
    if extent == Extent.WHOLE:
        return f"the whole length of the {'rail' if is_rail else 'members'}: {size}"
    assumed = ", assumed" if site.is_assumed else ""
    return f"cut out to the nearest members: {size} ({_apart(site)}{assumed})"


def _apart(site: Site) -> str:
    return f"{size_words(site.members.spacing_mm, units=site.units)} apart"


def _size_words(rectangle: Rectangle, units: str) -> str:
    return f"{span_words(rectangle.width_mm, units=units)} × {span_words(rectangle.height_mm, units=units)}"
