"""Sheets, skin and membrane off the roll, and insulation: how a rectangle is covered, and what that takes.

Sheets are laid in strips, which need not be the least possible: `SheetPlan.is_least` says where it is proven.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from estimates.calc.geometry import Measured, Run, Side
from estimates.calc.takeoff import Worked, area_words, count_words, length_words, packs_needed, size_words

MM_PER_FT = 304.8
MM_PER_INCH = 25.4
MM2_PER_M2 = 1_000_000.0
# 1/8 in between panels at edges and ends: APA recommendation (tests/reference/data/panel_and_membrane_facts.csv).
PANEL_GAP_MM = 3.175
# Welds at least 3 in wide: common practice, no source.
LEAST_WELD_MM = 76.2
# 4 in between field sheets: published (tests/reference/data/panel_and_membrane_facts.csv).
FIELD_LAP_MM = 101.6
LONGEST_MM = 100_000.0
LARGEST_M2 = 1000.0
SLACK_MM = 1e-6
# W/m K. Handbook values for a class of material (ASHRAE Handbook of Fundamentals 2005, as in
# tests/reference/data/insulation_r_per_inch.csv); the product's own label wins.
CONDUCTIVITY_W_PER_MK = {"insulation board": 0.03, "batt insulation": 0.05, "plywood": 0.12, "wood": 0.15}
# 1 m2 K/W in h ft2 F/Btu.
R_US_PER_SI = 5.678263


@dataclass(frozen=True)
class Part:
    """A part of a cover [mm], and how many: length with the grain, width across it."""

    length_mm: float
    width_mm: float
    count: int


@dataclass(frozen=True)
class SheetPlan:
    """A rectangle in sheets. grain: the way their length runs. count_by_area: no layout takes fewer."""

    parts: tuple[Part, ...]
    grain: Run
    count: int
    count_by_area: int

    @property
    def is_least(self) -> bool:
        """Whether no layout can take fewer; False says only that this is not proven."""
        return self.count == self.count_by_area


@dataclass(frozen=True)
class RollPlan:
    """A rectangle in strips off a roll [mm]; seams are those between strips, edge_weld_mm welds onto what stays."""

    run: Run
    strips: int
    strip_mm: float
    roll_width_mm: float
    seams: int
    edge_weld_mm: float = 0.0

    @property
    def roll_mm(self) -> float:
        """Length off the roll, every strip whole."""
        return self.strips * self.strip_mm

    @property
    def seam_mm(self) -> float:
        return self.seams * self.strip_mm

    @property
    def weld_mm(self) -> float:
        """All there is to weld."""
        return self.seam_mm + self.edge_weld_mm


def sheets_for_area(area_m2: float, *, sheet_width_mm: float = 4 * MM_PER_FT, sheet_mm: float = 8 * MM_PER_FT) -> int:
    """Area by the area of a sheet, rounded up, before waste: a first guess that no layout goes below.

    area_m2: 0 to 1000 m2. Raises ValueError outside, or for a sheet of no size.
    Source: length x height / 32 for 4 x 8 ft sheets (tests/reference/data/panel_and_membrane_facts.csv).
    """
    if not 0 <= area_m2 <= LARGEST_M2:
        raise ValueError(f"area_m2 must be 0 to {LARGEST_M2:g}, got {area_m2!r}")
    _check_sizes(sheet_width_mm=sheet_width_mm, sheet_mm=sheet_mm)
    return packs_needed(area_m2, pack_quantity=sheet_width_mm * sheet_mm / MM2_PER_M2, waste=0)


def lay_sheets(
    width_mm: float,
    height_mm: float,
    *,
    grain: Run | None,
    sheet_width_mm: float = 4 * MM_PER_FT,
    sheet_mm: float = 8 * MM_PER_FT,
    gap_mm: float = PANEL_GAP_MM,
    kerf_mm: float = 3.175,
) -> SheetPlan:
    """Whole sheets in rows from one corner, the last of each row and the last row cut to size.

    width_mm, height_mm: of the rectangle. grain: ALONG lays the sheets' length along the width, ACROSS along the
    height, None takes whichever needs fewer. Cut parts come out of as few sheets as their row or column allows; an
    offcut is used for the corner but not pieced together. Joints are not moved onto framing.
    Raises ValueError for sizes not above 0 or over 100 m, and gaps or kerfs outside 0 to 25 mm.
    """
    _check_sizes(width_mm=width_mm, height_mm=height_mm, sheet_width_mm=sheet_width_mm, sheet_mm=sheet_mm)
    for name, value in [("gap_mm", gap_mm), ("kerf_mm", kerf_mm)]:
        if not 0 <= value <= MM_PER_INCH:
            raise ValueError(f"{name} must be 0 to {MM_PER_INCH:g}, got {value!r}")
    runs = {Run.ALONG: (width_mm, height_mm), Run.ACROSS: (height_mm, width_mm)}
    sheet = (sheet_mm, sheet_width_mm)
    plans = [_rows(run, sizes, sheet, gap_mm, kerf_mm) for run, sizes in runs.items() if grain in {None, run}]
    return min(plans, key=lambda plan: plan.count)


def sheets_worked(plan: SheetPlan, width_mm: float, height_mm: float, *, waste: float, units: str) -> Worked:
    """The sheets of a layout, with waste for what is spoilt, in words; the quantity is whole sheets laid."""
    packs = packs_needed(plan.count, pack_quantity=1, waste=waste)
    spoilt = f", with {100 * waste:.0f}% waste" if waste else ""
    words = (
        f"{length_words(width_mm, units=units)} × {length_words(height_mm, units=units)}, the sheets' length along the "
        f"{'first' if plan.grain == Run.ALONG else 'second'}{spoilt} = {count_words(packs, 'sheet')}"
    )
    return Worked(plan.count, "sheet", packs, words)


def lay_roll(width_mm: float, height_mm: float, *, roll_width_mm: float, run: Run | None, lap_mm: float) -> RollPlan:
    """Strips side by side off a roll, its length (and a skin's grain) along the run; None takes the shorter roll.

    lap_mm: how far one strip lies over the next, 0 for strips that butt. Of equal lengths the fewer seams are taken.
    Raises ValueError for sizes not above 0 or over 100 m, or a lap as wide as the roll.
    """
    _check_sizes(width_mm=width_mm, height_mm=height_mm, roll_width_mm=roll_width_mm)
    if not 0 <= lap_mm < roll_width_mm:
        raise ValueError(f"lap_mm must be 0 to below {roll_width_mm:g}, got {lap_mm!r}")
    runs = {Run.ALONG: (width_mm, height_mm), Run.ACROSS: (height_mm, width_mm)}
    plans = [_strips(way, sizes, roll_width_mm, lap_mm) for way, sizes in runs.items() if run in {None, way}]
    return min(plans, key=lambda plan: (round(plan.roll_mm, 3), plan.seams))


def lay_membrane(
    place: Measured,
    *,
    roll_width_mm: float,
    wrap_mm: float,
    run: Run | None = None,
    lap_mm: float = FIELD_LAP_MM,
) -> RollPlan:
    """Membrane over a place: wrapped over where the place meets the face's own edge, lapped and welded elsewhere.

    place: from geometry.measure. wrap_mm: how far it goes over an edge of the face, 0 to 1000 mm. lap_mm: onto what
    stays and between strips, 76.2 (the least weld; common practice, no source) to 300 mm.
    Raises ValueError outside those ranges. Weld settings, test welds and cautions are the maker's and the label's.
    """
    if not LEAST_WELD_MM <= lap_mm <= 300:
        raise ValueError(f"lap_mm must be {LEAST_WELD_MM:g} to 300, got {lap_mm!r}")
    if not 0 <= wrap_mm <= 1000:
        raise ValueError(f"wrap_mm must be 0 to 1000, got {wrap_mm!r}")
    over = {edge.side: wrap_mm if edge.is_on_face_edge else lap_mm for edge in place.edges}
    long = {edge.side: edge.length_mm for edge in place.edges}
    plan = lay_roll(
        long[Side.TOP] + over[Side.LEFT] + over[Side.RIGHT],
        long[Side.LEFT] + over[Side.TOP] + over[Side.BOTTOM],
        roll_width_mm=roll_width_mm,
        run=run,
        lap_mm=lap_mm,
    )
    return RollPlan(plan.run, plan.strips, plan.strip_mm, roll_width_mm, plan.seams, place.inner_edge_mm)


def roll_worked(
    plan: RollPlan, *, sold_mm: float, is_cut_to_length: bool, pack: str, waste: float, units: str
) -> Worked:
    """What to buy for the strips: rolls of sold_mm, none spliced within a strip, or lengths of sold_mm cut off one.

    The quantity is metres off the roll. Raises ValueError if a strip is longer than a roll that is sold whole.
    """
    _check_sizes(sold_mm=sold_mm)
    if is_cut_to_length:
        packs = packs_needed(plan.roll_mm, pack_quantity=sold_mm, waste=waste)
    else:
        if plan.strip_mm > sold_mm + SLACK_MM:
            raise ValueError(f"sold_mm must be at least one strip, {plan.strip_mm:g}, got {sold_mm!r}")
        each = math.floor(sold_mm / plan.strip_mm + SLACK_MM)
        packs = packs_needed(plan.strips, pack_quantity=each, waste=waste)
    seams = f", {length_words(plan.weld_mm, units=units)} to weld" if plan.edge_weld_mm else _seam_words(plan, units)
    spoilt = f", with {100 * waste:.0f}% waste" if waste else ""
    words = (
        f"{count_words(plan.strips, 'strip')} of {length_words(plan.strip_mm, units=units)} "
        f"off a roll {length_words(plan.roll_width_mm, units=units)} wide{seams}{spoilt} = {count_words(packs, pack)}"
    )
    return Worked(plan.roll_mm / 1000, "m", packs, words)


def r_value_us(material: str, thickness_mm: float) -> float:
    """R [h ft2 F/Btu] of a thickness [mm, 0 to 1000] of a class of material, by its handbook conductivity.

    Raises ValueError for another material than CONDUCTIVITY_W_PER_MK has. Source: R = thickness / k.
    """
    if material not in CONDUCTIVITY_W_PER_MK:
        raise ValueError(f"material must be one of {', '.join(CONDUCTIVITY_W_PER_MK)}, got {material!r}")
    if not 0 <= thickness_mm <= 1000:
        raise ValueError(f"thickness_mm must be 0 to 1000, got {thickness_mm!r}")
    return thickness_mm / 1000 / CONDUCTIVITY_W_PER_MK[material] * R_US_PER_SI


def insulation(
    area_m2: float, *, cavity_mm: float, board_mm: float, board_m2: float, material: str, waste: float, units: str
) -> Worked:
    """Boards to fill a cavity in as many layers as fit its depth; the quantity is square metres of board.

    area_m2: of the cavity, members not taken off, 0 to 1000 m2. cavity_mm, board_mm: depth and thickness, to 1000 mm.
    The R value in the words is the handbook's for the class of material; the board's own label wins.
    Raises ValueError outside those ranges or for a board thicker than the cavity.
    """
    if not 0 <= area_m2 <= LARGEST_M2:
        raise ValueError(f"area_m2 must be 0 to {LARGEST_M2:g}, got {area_m2!r}")
    if not 0 < cavity_mm <= 1000:
        raise ValueError(f"cavity_mm must be above 0, to 1000, got {cavity_mm!r}")
    if not 0 < board_mm <= cavity_mm + SLACK_MM:
        raise ValueError(f"board_mm must be above 0, to {cavity_mm:g} as the cavity, got {board_mm!r}")
    if not 0 < board_m2 <= LARGEST_M2:
        raise ValueError(f"board_m2 must be above 0, to {LARGEST_M2:g}, got {board_m2!r}")
    layers = math.floor(cavity_mm / board_mm + SLACK_MM)
    packs = packs_needed(area_m2 * layers, pack_quantity=board_m2, waste=waste)
    spoilt = f", with {100 * waste:.0f}% waste" if waste else ""
    words = (
        f"{area_words(area_m2, units=units)} × {count_words(layers, 'layer')} of {size_words(board_mm, units=units)}, "
        f"{_r_words(material, layers * board_mm, units)} by handbook{spoilt} = {count_words(packs, 'board')}"
    )
    return Worked(area_m2 * layers, "m²", packs, words)


def _rows(run: Run, area: tuple[float, float], sheet: tuple[float, float], gap_mm: float, kerf_mm: float) -> SheetPlan:
    """Sheets in rows along the grain. area, sheet: size [mm] with the grain, then across it."""
    whole, rows = (_whole(size, full, gap_mm) for size, full in zip(area, sheet, strict=True))
    end_mm, rip_mm = (
        max(0.0, size - count * (full + gap_mm)) for size, full, count in zip(area, sheet, (whole, rows), strict=True)
    )
    end_mm, rip_mm = (0.0 if size <= SLACK_MM else size for size in (end_mm, rip_mm))
    parts = (
        Part(sheet[0], sheet[1], whole * rows),
        Part(end_mm, sheet[1], rows if end_mm else 0),
        Part(sheet[0], rip_mm, whole if rip_mm else 0),
        Part(end_mm, rip_mm, 1 if end_mm and rip_mm else 0),
    )
    count = whole * rows + _cut_sheets(parts, sheet, kerf_mm)
    needed_mm2 = sum(part.length_mm * part.width_mm * part.count for part in parts)
    by_area = packs_needed(needed_mm2, pack_quantity=sheet[0] * sheet[1], waste=0)
    return SheetPlan(tuple(part for part in parts if part.count), run, count, by_area)


def _whole(size_mm: float, full_mm: float, gap_mm: float) -> int:
    return math.floor((size_mm + gap_mm + SLACK_MM) / (full_mm + gap_mm))


def _cut_sheets(parts: Sequence[Part], sheet: tuple[float, float], kerf_mm: float) -> int:
    """Sheets that the end parts, the ripped row and its corner take; the corner out of an offcut where one holds it."""
    _, ends, rips, corner = parts
    end_sheets, end_left_mm = _sliced(ends.count, ends.length_mm, sheet[0], kerf_mm)
    rip_sheets, rip_left_mm = _sliced(rips.count, rips.width_mm, sheet[1], kerf_mm)
    fits = corner.length_mm <= end_left_mm + SLACK_MM or corner.width_mm <= rip_left_mm + SLACK_MM
    return end_sheets + rip_sheets + (1 if corner.count and not fits else 0)


def _sliced(count: int, slice_mm: float, sheet_mm: float, kerf_mm: float) -> tuple[int, float]:
    """Sheets for so many slices, and what is left of the last sheet [mm]; nothing if there is no sheet."""
    if not count:
        return 0, 0.0
    each = math.floor((sheet_mm + kerf_mm + SLACK_MM) / (slice_mm + kerf_mm))
    sheets = math.ceil(count / each)
    return sheets, sheet_mm - (count - (sheets - 1) * each) * (slice_mm + kerf_mm)


def _strips(run: Run, area: tuple[float, float], roll_width_mm: float, lap_mm: float) -> RollPlan:
    strip_mm, across_mm = area
    more = max(0, math.ceil((across_mm - roll_width_mm - SLACK_MM) / (roll_width_mm - lap_mm)))
    return RollPlan(run, more + 1, strip_mm, roll_width_mm, more)


def _seam_words(plan: RollPlan, units: str) -> str:
    return f", {count_words(plan.seams, 'seam')} of {length_words(plan.strip_mm, units=units)}" if plan.seams else ""


def _r_words(material: str, thickness_mm: float, units: str) -> str:
    r_us = r_value_us(material, thickness_mm)
    return f"R {r_us:.1f}" if units == "us" else f"R {r_us / R_US_PER_SI:.2f} m²K/W"


def _check_sizes(**sizes_mm: float) -> None:
    for name, value in sizes_mm.items():
        if not 0 < value <= LONGEST_MM:
            raise ValueError(f"{name} must be above 0, to {LONGEST_MM:g}, got {value!r}")
