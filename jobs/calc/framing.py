"""How the framing behind a coach's faces stands, face group by face group, and what is assumed until it is known."""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from jobs.calc.faces import Face

# 16 in on centre. Common practice, no source; shown as an assumption until somebody has measured.
ASSUMED_SPACING_MM = 406.4
# Closer or wider is a slip of the unit: 3 in to 5 ft.
CLOSEST_MM, WIDEST_MM = 76.2, 1524.0


class FaceGroup(StrEnum):
    ROOF = "roof"
    WALL = "wall"
    FLOOR = "floor"


class MemberRun(StrEnum):
    """Which way members run on a face: ALONG its width (`left`) or ACROSS it, along its height (`top`)."""

    ALONG = "along"
    ACROSS = "across"


_GROUP_OF = {Face.ROOF: FaceGroup.ROOF, Face.FLOOR: FaceGroup.FLOOR}
_LYING = {MemberRun.ACROSS: "from side to side", MemberRun.ALONG: "from front to rear"}
RUN_WORDS = {
    FaceGroup.ROOF: _LYING,
    FaceGroup.WALL: {MemberRun.ACROSS: "upright", MemberRun.ALONG: "lying"},
    FaceGroup.FLOOR: _LYING,
}


@dataclass(frozen=True)
class Framing:
    """Members of a face: on-centre spacing [mm] and run. is_assumed: nobody has measured the spacing yet."""

    spacing_mm: float
    run: MemberRun
    is_assumed: bool


def group_of(face: str) -> FaceGroup:
    """The group whose framing a face shares. Raises ValueError for an unknown face."""
    return _GROUP_OF.get(Face(face), FaceGroup.WALL)


def framing(spacing_mm: float | None, run: str) -> Framing:
    """The framing to reckon with; without a spacing the planning assumption. Raises ValueError for a slip."""
    if spacing_mm is None:
        return Framing(ASSUMED_SPACING_MM, MemberRun(run), is_assumed=True)
    if not CLOSEST_MM <= spacing_mm <= WIDEST_MM:
        raise ValueError(f"spacing_mm must be {CLOSEST_MM:g} to {WIDEST_MM:g}, got {spacing_mm!r}")
    return Framing(spacing_mm, MemberRun(run), is_assumed=False)


def spacing_words(spacing_mm: float, *, units: str) -> str:
    """A spacing as it is said on the bench: "16 in", "23 5/8 in", or "406 mm"; reads back as a length.

    Raises ValueError for other units than "us" or "metric".
    """
    if units == "metric":
        return f"{spacing_mm:.0f} mm"
    if units != "us":
        raise ValueError(f"units must be 'us' or 'metric', got {units!r}")
    inches, over = divmod(round(spacing_mm / 25.4 * 16), 16)
    return f"{inches} {Fraction(over, 16)} in" if over else f"{inches} in"
