"""A line of a recipe and a material as it is sold: what they say, and what a place has of a recipe's units."""

from dataclasses import dataclass
from enum import StrEnum

from estimates.calc.site import Cut
from estimates.calc.takeoff import (
    MM_PER_FT,
    MM_PER_M,
    Coverage,
    area_words,
    count_words,
    length_words,
    quantity_for,
    span_words,
)

UNIT_WORDS = {
    "area_ft2": "ft²",
    "area_m2": "m²",
    "edge_ft": "ft",
    "edge_m": "m",
    "length_ft": "ft",
    "length_m": "m",
    "member_ft": "ft",
    "member_m": "m",
}
# The bases by length of member, and how many of their unit a millimetre is.
MEMBER_LENGTHS = {"member_ft": 1 / MM_PER_FT, "member_m": 1 / MM_PER_M}


class TakeOff(StrEnum):
    """How the quantity of a material comes about."""

    COUNT = "count"
    SHEET = "sheet"
    STICK = "stick"
    ROLL = "roll"
    ADHESIVE = "adhesive"
    SEALANT = "sealant"
    FASTENER = "fastener"


class Laid(StrEnum):
    """Which way sheets and strips are laid: their length (and grain) across the members, along them, or either."""

    EITHER = ""
    ACROSS = "across"
    ALONG = "along"


@dataclass(frozen=True)
class Stuff:
    """A material as it is sold [mm]. stock: for sticks, each length sold and what it costs in any one unit.

    pack_quantity: for what is counted in the recipe's unit; for sheets how many are in one pack, for adhesive gal, l
    or kg by the coverage's unit, for sealant ml, for fasteners how many.
    """

    kind: str
    pack: str
    pack_quantity: float
    width_mm: float | None = None
    length_mm: float | None = None
    kerf_mm: float | None = None
    is_cut_to_length: bool = False
    coverage: Coverage | None = None
    stock: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Use:
    """How a recipe uses a material. per_unit: how many times over; whole for what is laid, cut or run in rows.

    lap_mm: of strips onto what lies beside them; of sticks, what each piece is longer for its splices.
    """

    basis: str
    per_unit: float = 1.0
    waste: float = 0.0
    laid: str = ""
    bead_width_in: float | None = None
    bead_depth_in: float | None = None
    wrap_mm: float | None = None
    lap_mm: float | None = None
    faces: int | None = None
    spacing_mm: float | None = None
    member_spacing_mm: float | None = None


@dataclass(frozen=True)
class Bought:
    """What is bought, of one length where several are sold [mm], and how that came about."""

    packs: int
    words: str
    length_mm: float | None = None


def units_of(basis: str, cut: Cut) -> float:
    """How many of a recipe's units a cut has: its area, edge or longer side, its members or their length, or one."""
    if basis == "member":
        return float(len(cut.members))
    if basis in MEMBER_LENGTHS:
        return cut.members_mm * MEMBER_LENGTHS[basis]
    if basis == "joint":
        return float(cut.joints)
    measured = cut.measured
    return quantity_for(
        basis,
        per_unit=1.0,
        area_m2=measured.area_m2,
        perimeter_m=measured.perimeter_mm / MM_PER_M,
        long_edge_m=cut.long_edge_mm / MM_PER_M,
    )


def units_words(basis: str, cut: Cut) -> str:
    """The same in words, in the shop's units: "24 ft²", "4 members crossed"; empty for what is counted once."""
    if basis == "each":
        return ""
    if basis == "member":
        return members_words(cut)
    if basis in MEMBER_LENGTHS:
        return f"{length_words(cut.members_mm, units=cut.units)} of member in {_members(cut)}{_assumed(cut)}"
    if basis == "joint":
        return f"{count_words(cut.joints, 'joint')} between sticks"
    if basis.startswith("area"):
        return area_words(cut.measured.area_m2, units=cut.units)
    if basis.startswith("edge"):
        return f"{length_words(cut.measured.perimeter_mm, units=cut.units)} round the edge"
    return f"{length_words(cut.long_edge_mm, units=cut.units)} along the longer side"


def members_words(cut: Cut) -> str:
    if cut.is_rail:
        return f"1 rail of {span_words(cut.members[0].length_mm, units=cut.units)}"
    each = span_words(cut.members[0].length_mm, units=cut.units)
    return f"{_members(cut)} crossed, {each} each{_assumed(cut)}"


def _members(cut: Cut) -> str:
    return "1 rail" if cut.is_rail else count_words(len(cut.members), "member")


def _assumed(cut: Cut) -> str:
    return f" ({cut.assumed})" if cut.assumed else ""


def plain_number(value: float) -> str:
    """To the tenth, without a nought that says nothing: "12.6", "24"."""
    return f"{value:.1f}".removesuffix(".0")
