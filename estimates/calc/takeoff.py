"""Quantities from the size of a place: packs, adhesive, beads, fasteners, board feet, hours, each with its words."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

FT_PER_M = 1 / 0.3048
CUBIC_INCHES_PER_ML = 1 / 16.387064
INCHES_PER_FOOT = 12.0
# Below this share of a pack a remainder is an error of floating point, not material.
PACK_TOLERANCE = 1e-9
MOST_WASTE = 0.5
# More than any job takes: a slip of a unit or of what one pack holds.
MOST_PACKS = 10_000_000
MM_PER_INCH = 25.4
MM_PER_FT = 304.8
MM_PER_M = 1000.0
ML_PER_US_FL_OZ = 29.5735295625
L_PER_US_GALLON = 3.785411784
LB_PER_KG = 1 / 0.45359237
# Longer or larger than any coach: a slip of the unit.
LONGEST_MM = 100_000.0
LARGEST_M2 = 1000.0
# Sizes printed in rounded ounces that are filled by the millilitre: the published volumes, 18.3 and 36.6 cubic
# inches, are 300 and 600 ml, not 10.1 and 20 US fluid ounces (tests/reference/data/sealant_package_volume.csv).
METRIC_FILL_ML = {("cartridge", 10.1): 300.0, ("sausage", 20.0): 600.0}
# Wood panels, on centre: IRC Table R602.3(1), tests/reference/data/panel_and_membrane_facts.csv. Local code wins.
PANEL_EDGE_SPACING_MM = 152.4
PANEL_FIELD_SPACING_MM = 304.8
ODD_PLURALS = {"foot": "feet"}


@dataclass(frozen=True)
class Worked:
    """A quantity worked out: as measured before waste, as sold, and in one plain line for the page and papers."""

    quantity: float
    unit: str
    packs: int
    words: str


@dataclass(frozen=True)
class Coverage:
    """How far an adhesive goes by its label.

    rate: in `unit`, "ft2/gal", "m2/l" or "g/m2". basis: "finished area" if the rate already counts every face that is
    coated, "coated face" if it is for one face, so that a joint coated on both takes twice as much. Labels give
    either, and mistaking them is wrong by a factor of two.
    """

    rate: float
    unit: str
    basis: str


@dataclass(frozen=True)
class FastenerLine:
    """So many equal rows of fasteners: length and spacing on centre [mm], and what they follow, in the singular."""

    where: str
    length_mm: float
    spacing_mm: float
    count: int = 1


def quantity_for(basis: str, *, per_unit: float, area_m2: float, perimeter_m: float, long_edge_m: float) -> float:
    """How much of something a place takes: `per_unit` times its area, edge, longer side, or once.

    basis: "each", "area_ft2", "area_m2", "edge_ft", "edge_m", "length_ft" or "length_m"; the result is per_unit's
    unit times that unit. area_m2 [m2], perimeter_m and long_edge_m [m]. Raises ValueError for an unknown basis.
    """
    units = {
        "each": 1.0,
        "area_ft2": area_m2 * FT_PER_M**2,
        "area_m2": area_m2,
        "edge_ft": perimeter_m * FT_PER_M,
        "edge_m": perimeter_m,
        "length_ft": long_edge_m * FT_PER_M,
        "length_m": long_edge_m,
    }
    if basis not in units:
        raise ValueError(f"basis must be one of {', '.join(units)}, got {basis!r}")
    return per_unit * units[basis]


def packs_needed(quantity: float, *, pack_quantity: float, waste: float) -> int:
    """Whole packs to buy so that `quantity` is left after waste.

    quantity, pack_quantity: in one unit. waste: share of what is bought that is lost, 0 to 0.5, so the need
    is quantity / (1 - waste), never quantity x (1 + waste). Raises ValueError outside those ranges, and for more than
    MOST_PACKS.
    """
    if not 0 <= quantity < math.inf:
        raise ValueError(f"quantity must be at least 0, got {quantity!r}")
    if not 0 < pack_quantity < math.inf:
        raise ValueError(f"pack_quantity must be above 0, got {pack_quantity!r}")
    if not 0 <= waste <= MOST_WASTE:
        raise ValueError(f"waste must be 0 to {MOST_WASTE}, got {waste!r}")
    packs = quantity / (1 - waste) / pack_quantity
    if not packs <= MOST_PACKS:
        raise ValueError(f"more than {MOST_PACKS} packs of {pack_quantity:.12g} would be needed for {quantity:.12g}")
    return math.ceil(packs - PACK_TOLERANCE * max(1.0, packs))


def bead_length_ft(package_ml: float, width_in: float, depth_in: float) -> float:
    """Feet of square bead that one package of sealant lays, before waste.

    package_ml: net volume [ml]. width_in, depth_in: joint section [in].
    Raises ValueError if any of them is not above zero.
    Source: geometry, length = volume / section. Checked against a published feet-per-gallon table,
    tests/reference/data/sealant_yield_published.csv (within 1 ft).
    """
    for name, value in [("package_ml", package_ml), ("width_in", width_in), ("depth_in", depth_in)]:
        if not 0 < value < math.inf:
            raise ValueError(f"{name} must be above 0, got {value!r}")
    length_ft = package_ml * CUBIC_INCHES_PER_ML / width_in / depth_in / INCHES_PER_FOOT
    if not 0 < length_ft < math.inf:
        raise ValueError(f"a bead of {width_in:g} x {depth_in:g} in out of {package_ml:g} ml is no bead")
    return length_ft


def board_feet(thickness_in: float, width_in: float, length_ft: float) -> float:
    """Board feet of one piece of timber by its nominal section.

    thickness_in, width_in: nominal section [in]. length_ft [ft]. Raises ValueError if any is not above zero.
    Source: a board foot is 1 ft x 1 ft x 1 in. Checked against a published lineal-feet table,
    tests/reference/data/board_feet_table.csv.
    """
    for name, value in [("thickness_in", thickness_in), ("width_in", width_in), ("length_ft", length_ft)]:
        if not 0 < value < math.inf:
            raise ValueError(f"{name} must be above 0, got {value!r}")
    return thickness_in * width_in * length_ft / INCHES_PER_FOOT


def labour_hours(setup_hours: float, hours_per_unit: float, units: float) -> float:
    """Standard hours of an operation [h]: once for setting up, then by quantity. Raises ValueError below zero."""
    for name, value in [("setup_hours", setup_hours), ("hours_per_unit", hours_per_unit), ("units", units)]:
        if not 0 <= value < math.inf:
            raise ValueError(f"{name} must be at least 0, got {value!r}")
    return setup_hours + hours_per_unit * units


def work_out_packs(quantity: float, *, unit: str, pack_quantity: float, pack: str, waste: float) -> Worked:
    """Whole packs of anything counted by one unit ("ft²", "m", "piece"); arguments as of packs_needed.

    pack: what is sold, in the singular. Words: "40.7 ft², with 10% waste, 32 ft² a sheet = 2 sheets".
    """
    packs = packs_needed(quantity, pack_quantity=pack_quantity, waste=waste)
    words = f"{_number(quantity)} {unit}{_lost(waste)}, {_number(pack_quantity)} {unit} a {pack}"
    return Worked(quantity, unit, packs, f"{words} = {count_words(packs, pack)}")


def adhesive(
    area_m2: float, coverage: Coverage, *, faces: int, pack_quantity: float, pack: str, waste: float, units: str
) -> Worked:
    """Adhesive for a bonded area: the area of the joint once, whatever the number of faces coated.

    area_m2: finished area, 0 to 1000 m2. faces: coated, 1 or 2. pack_quantity: what one pack holds, in gal, l or kg
    by the unit of the rate; so is the quantity. Raises ValueError outside those ranges.
    """
    _check_range("area_m2", area_m2, LARGEST_M2)
    if faces not in {1, 2}:
        raise ValueError(f"faces must be 1 or 2, got {faces!r}")
    _check_coverage(coverage)
    coats = faces if coverage.basis == "coated face" else 1
    quantity, unit = _adhesive_quantity(area_m2 * coats, coverage)
    packs = packs_needed(quantity, pack_quantity=pack_quantity, waste=waste)
    what = "both faces coated" if faces == 2 else "one face coated"
    words = (
        f"{area_words(area_m2, units=units)} bonded, {what}, at {_rate_words(coverage, units)} of {coverage.basis}"
        f" = {_volume_words(quantity, unit, units)}{_lost(waste)} = {count_words(packs, pack)}"
    )
    return Worked(quantity, unit, packs, words)


def sealant(
    edge_mm: float,
    *,
    beads: int,
    bead_width_in: float,
    bead_depth_in: float,
    package_ml: float,
    package: str,
    waste: float,
    units: str,
) -> Worked:
    """Packages of sealant for an edge with so many square beads along it; the quantity is metres of bead.

    edge_mm: 0 to 100 m. beads: 0 to 10. Words: "12.6 ft of edge × 2 beads = 25.2 ft, 15.3 ft a cartridge =
    2 cartridges". Raises ValueError outside those ranges.
    """
    _check_range("edge_mm", edge_mm, LONGEST_MM)
    if not 0 <= beads <= 10:
        raise ValueError(f"beads must be 0 to 10, got {beads!r}")
    bead_mm = edge_mm * beads
    per_package_mm = bead_length_ft(package_ml, bead_width_in, bead_depth_in) * MM_PER_FT
    packs = packs_needed(bead_mm, pack_quantity=per_package_mm, waste=waste)
    total = "" if beads == 1 else f" = {length_words(bead_mm, units=units)}"
    words = (
        f"{length_words(edge_mm, units=units)} of edge × {count_words(beads, 'bead')}{total}{_lost(waste)}, "
        f"{length_words(per_package_mm, units=units)} a {package} = {count_words(packs, package)}"
    )
    return Worked(bead_mm / MM_PER_M, "m", packs, words)


def package_ml(us_fl_oz: float, *, package: str) -> float:
    """Net volume [ml] of a package by the ounces printed on it; a "20 oz" sausage is 600 ml.

    us_fl_oz: above 0, to 1280 (ten gallons). Raises ValueError outside.
    Source: a US gallon is 231 cubic inches; METRIC_FILL_ML for what is filled by the millilitre.
    """
    if not 0 < us_fl_oz <= 1280:
        raise ValueError(f"us_fl_oz must be above 0, to 1280, got {us_fl_oz!r}")
    return METRIC_FILL_ML.get((package, us_fl_oz), us_fl_oz * ML_PER_US_FL_OZ)


def fasteners_in_line(length_mm: float, spacing_mm: float) -> int:
    """Fasteners in one row, one at its start and then one each spacing: floor(length / spacing) + 1.

    length_mm: 0 to 100 m. spacing_mm: 5 mm to 2 m. Raises ValueError outside.
    """
    _check_range("length_mm", length_mm, LONGEST_MM)
    if not 5 <= spacing_mm <= 2000:
        raise ValueError(f"spacing_mm must be 5 to 2000, got {spacing_mm!r}")
    return math.floor(length_mm / spacing_mm + PACK_TOLERANCE) + 1


def fasteners(
    lines: Sequence[FastenerLine], *, pack_quantity: float, pack: str, waste: float, units: str, name: str = "screw"
) -> Worked:
    """Fasteners along edges and members; one where two rows meet is counted in both.

    Words: "4 edges of 8 ft at 6 in, 3 members of 4 ft at 12 in = 83 screws = 1 box". Raises ValueError for sizes out
    of range or a count outside 0 to 1000.
    """
    for line in lines:
        if not 0 <= line.count <= 1000:
            raise ValueError(f"count must be 0 to 1000, got {line.count!r}")
    number = sum(line.count * fasteners_in_line(line.length_mm, line.spacing_mm) for line in lines)
    packs = packs_needed(number, pack_quantity=pack_quantity, waste=waste)
    rows = ", ".join(
        f"{count_words(line.count, line.where)} of {length_words(line.length_mm, units=units)} "
        f"at {size_words(line.spacing_mm, units=units)}"
        for line in lines
        if line.count
    )
    words = f"{rows or 'no rows'} = {count_words(number, name)}{_lost(waste)} = {count_words(packs, pack)}"
    return Worked(number, name, packs, words)


def length_words(mm: float, *, units: str) -> str:
    """A length to reckon with: "12.6 ft" or "3.84 m". Raises ValueError for other units than "us" or "metric"."""
    if _is_us(units):
        return f"{_number(mm / MM_PER_FT)} ft"
    return f"{mm / MM_PER_M:.2f} m"


def span_words(mm: float, *, units: str) -> str:
    """A length to measure out: "2 ft 8 1/2 in", "8 in", or metres: "0.83 m"."""
    if not _is_us(units):
        return f"{mm / MM_PER_M:.2f} m"
    sixteenths = round(mm / MM_PER_INCH * 16)
    feet, rest = divmod(sixteenths, 12 * 16)
    inches = size_words(rest * MM_PER_INCH / 16, units=units) if rest or not feet else ""
    return " ".join(part for part in [f"{feet} ft" if feet else "", inches] if part)


def size_words(mm: float, *, units: str) -> str:
    """A small size: inches to the nearest 1/16, "3 1/2 in", or whole millimetres."""
    if not _is_us(units):
        return f"{mm:.0f} mm"
    whole, part = divmod(Fraction(round(mm / MM_PER_INCH * 16), 16), 1)
    return " ".join([*([str(whole)] if whole or not part else []), *([str(part)] if part else []), "in"])


def area_words(m2: float, *, units: str) -> str:
    """An area: "40.7 ft²" or "3.78 m²"."""
    return f"{_number(m2 * FT_PER_M**2)} ft²" if _is_us(units) else f"{m2:.2f} m²"


def count_words(count: int, name: str) -> str:
    """So many of a thing, in the plural unless one: "2 boxes", "3 sheets of 32 ft²", "2 × 1 gal can"."""
    if name[:1].isdigit():
        return f"{count} × {name}"
    if count == 1 or name == "each":
        return f"{count} {name}"
    head, of, what = name.partition(" of ")
    if of:
        return f"{count_words(count, head)}{of}{what}"
    if name in ODD_PLURALS:
        return f"{count} {ODD_PLURALS[name]}"
    return f"{count} {name}{'es' if name.endswith(('s', 'x', 'ch', 'sh')) else 's'}"


def _is_us(units: str) -> bool:
    if units not in {"us", "metric"}:
        raise ValueError(f"units must be 'us' or 'metric', got {units!r}")
    return units == "us"


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _lost(waste: float) -> str:
    return f", with {100 * waste:.0f}% waste" if waste else ""


def _check_range(name: str, value: float, most: float) -> None:
    if not 0 <= value <= most:
        raise ValueError(f"{name} must be 0 to {most:g}, got {value!r}")


def _check_coverage(coverage: Coverage) -> None:
    if not 0 < coverage.rate < math.inf:
        raise ValueError(f"rate must be above 0, got {coverage.rate!r}")
    if coverage.unit not in {"ft2/gal", "m2/l", "g/m2"}:
        raise ValueError(f"unit must be 'ft2/gal', 'm2/l' or 'g/m2', got {coverage.unit!r}")
    if coverage.basis not in {"finished area", "coated face"}:
        raise ValueError(f"basis must be 'finished area' or 'coated face', got {coverage.basis!r}")


def _adhesive_quantity(area_m2: float, coverage: Coverage) -> tuple[float, str]:
    if coverage.unit == "ft2/gal":
        return area_m2 * FT_PER_M**2 / coverage.rate, "gal"
    if coverage.unit == "m2/l":
        return area_m2 / coverage.rate, "l"
    return area_m2 * coverage.rate / 1000, "kg"


def _rate_words(coverage: Coverage, units: str) -> str:
    if coverage.unit == "g/m2":
        us_rate = coverage.rate / 1000 * LB_PER_KG / FT_PER_M**2 * 100
        return f"{_number(us_rate)} lb a 100 ft²" if _is_us(units) else f"{_number(coverage.rate)} g a m²"
    gallons_per_l = FT_PER_M**2 * L_PER_US_GALLON
    us_rate = coverage.rate if coverage.unit == "ft2/gal" else coverage.rate * gallons_per_l
    return f"{us_rate:.0f} ft² a gallon" if _is_us(units) else f"{_number(us_rate / gallons_per_l)} m² a litre"


def _volume_words(quantity: float, unit: str, units: str) -> str:
    if unit == "kg":
        return f"{quantity * LB_PER_KG:.2f} lb" if _is_us(units) else f"{quantity:.2f} kg"
    litres = quantity * L_PER_US_GALLON if unit == "gal" else quantity
    return f"{litres / L_PER_US_GALLON:.2f} gal" if _is_us(units) else f"{litres:.2f} l"
