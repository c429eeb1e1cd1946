"""Quantities from the size of a place: packs, beads, board feet, hours."""

import math

FT_PER_M = 1 / 0.3048
CUBIC_INCHES_PER_ML = 1 / 16.387064
INCHES_PER_FOOT = 12.0
# Below this share of a pack a remainder is an error of floating point, not material.
PACK_TOLERANCE = 1e-9
MOST_WASTE = 0.5


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
    is quantity / (1 - waste), never quantity x (1 + waste). Raises ValueError outside those ranges.
    """
    if not quantity >= 0:
        raise ValueError(f"quantity must be at least 0, got {quantity!r}")
    if not pack_quantity > 0:
        raise ValueError(f"pack_quantity must be above 0, got {pack_quantity!r}")
    if not 0 <= waste <= MOST_WASTE:
        raise ValueError(f"waste must be 0 to {MOST_WASTE}, got {waste!r}")
    packs = quantity / (1 - waste) / pack_quantity
    return math.ceil(packs - PACK_TOLERANCE * max(1.0, packs))


def bead_length_ft(package_ml: float, width_in: float, depth_in: float) -> float:
    """Feet of square bead that one package of sealant lays, before waste.

    package_ml: net volume [ml]. width_in, depth_in: joint section [in].
    Raises ValueError if any of them is not above zero.
    Source: geometry, length = volume / section. Checked against a published feet-per-gallon table,
    tests/reference/data/sealant_yield_published.csv (within 1 ft).
    """
    for name, value in [("package_ml", package_ml), ("width_in", width_in), ("depth_in", depth_in)]:
        if not value > 0:
            raise ValueError(f"{name} must be above 0, got {value!r}")
    return package_ml * CUBIC_INCHES_PER_ML / (width_in * depth_in) / INCHES_PER_FOOT


def board_feet(thickness_in: float, width_in: float, length_ft: float) -> float:
    """Board feet of one piece of timber by its nominal section.

    thickness_in, width_in: nominal section [in]. length_ft [ft]. Raises ValueError if any is not above zero.
    Source: a board foot is 1 ft x 1 ft x 1 in. Checked against a published lineal-feet table,
    tests/reference/data/board_feet_table.csv.
    """
    for name, value in [("thickness_in", thickness_in), ("width_in", width_in), ("length_ft", length_ft)]:
        if not value > 0:
            raise ValueError(f"{name} must be above 0, got {value!r}")
    return thickness_in * width_in * length_ft / INCHES_PER_FOOT


def labour_hours(setup_hours: float, hours_per_unit: float, units: float) -> float:
    """Standard hours of an operation [h]: once for setting up, then by quantity. Raises ValueError below zero."""
    for name, value in [("setup_hours", setup_hours), ("hours_per_unit", hours_per_unit), ("units", units)]:
        if not value >= 0:
            raise ValueError(f"{name} must be at least 0, got {value!r}")
    return setup_hours + hours_per_unit * units
