"""What a pin meter's reading means for the wood it was taken in.

Pin meters show the moisture content that Douglas-fir of the coast region would have at the resistance between
their pins, near 20 C (Garrahan, Forintek, on correction factors: "Douglas-fir, 21 C, most resistance meters").
Two things move a reading away from the truth, and both have published corrections: the temperature of the wood
and its species. For panels no published correction was found; their readings stay as they are, and say so.

Not corrected: preservatives (waterborne ones read 1 to 2 points high), lumber dried hot (black spruce and jack
pine corrected by older tables come out 0.6 to 4.5 points too wet), pins in a glue line or across a moisture
gradient. A reading above fibre saturation (25 to 30 %) is a rough figure only.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np

from jobs.calc.moisture.ranges import check_range
from jobs.calc.moisture.resistance import FIRST_MC_PCT, LAST_MC_PCT, RESISTANCE_MEGOHM

SCALE_SPECIES = "douglas_fir_coast"
SCALE_TEMP_C = 20.0
POINTS_PER_C = 0.1
# Where the temperature rule has rows to check it against; outside it is stretched, and says so.
RULE_TEMPS_C = (0.0, 40.0)
# Two published rules differ by this much at 10, 40 and 50 C (tests/reference/test_meter.py).
TEMPERATURE_RULES_DIFFER_POINTS = 1.0

READING_RANGE_PCT = (0.0, 200.0)
WOOD_TEMP_RANGE_C = (-20.0, 60.0)


@dataclass(frozen=True)
class Material:
    """Something a meter is stuck into. name: as inside a sentence. is_corrected: a species column is published.

    group: "softwood", "hardwood", "panel" or "unknown".
    """

    key: str
    name: str
    group: str
    is_corrected: bool

    @property
    def label(self) -> str:
        """The name as it stands in a menu."""
        return self.name[0].upper() + self.name[1:]


@dataclass(frozen=True)
class CorrectedReading:
    """mc_pct: moisture content in % of the oven-dry mass. how: what was done to the reading, in plain words."""

    mc_pct: float
    how: str


_NAMES = (
    ("softwood", "douglas_fir_coast", "Douglas-fir (coast)"),
    ("softwood", "hemlock_western", "western hemlock"),
    ("softwood", "fir_white", "white fir"),
    ("softwood", "spruce_black", "black spruce"),
    ("softwood", "spruce_sitka", "Sitka spruce"),
    ("softwood", "pine_jack", "jack pine"),
    ("softwood", "pine_ponderosa", "ponderosa pine"),
    ("softwood", "pine_white", "white pine"),
    ("softwood", "pine_shortleaf", "shortleaf pine"),
    ("panel", "plywood", "plywood"),
    ("panel", "osb", "OSB"),
    ("panel", "panel_other", "lauan, hardboard or another panel"),
    ("unknown", "wood_unknown", "wood of unknown kind"),
    ("softwood", "baldcypress", "baldcypress"),
    ("softwood", "fir_california_red", "California red fir"),
    ("softwood", "hemlock_eastern", "eastern hemlock"),
    ("softwood", "larch_western", "western larch"),
    ("softwood", "pine_longleaf", "longleaf pine"),
    ("softwood", "pine_red", "red pine"),
    ("softwood", "pine_sugar", "sugar pine"),
    ("softwood", "redwood", "redwood"),
    ("hardwood", "ash_black", "black ash"),
    ("hardwood", "ash_white", "white ash"),
    ("hardwood", "aspen_bigtooth", "bigtooth aspen"),
    ("hardwood", "basswood", "basswood"),
    ("hardwood", "birch", "birch"),
    ("hardwood", "birch_paper", "paper birch"),
    ("hardwood", "elm_american", "American elm"),
    ("hardwood", "hickory", "hickory"),
    ("hardwood", "khaya", "khaya"),
    ("hardwood", "magnolia", "magnolia"),
    ("hardwood", "mahogany_philippine", "Philippine mahogany, solid"),
    ("hardwood", "mahogany_swietenia", "mahogany (Swietenia)"),
    ("hardwood", "maple_sugar", "sugar maple"),
    ("hardwood", "oak_northern_red", "northern red oak"),
    ("hardwood", "oak_white", "white oak"),
    ("hardwood", "sweetgum", "sweetgum"),
    ("hardwood", "tupelo_black", "black tupelo"),
    ("hardwood", "walnut_black", "black walnut"),
    ("hardwood", "yellow_poplar", "yellow-poplar"),
)
# In the order of a menu: COMMON_MATERIALS first. Which woods are common in framing is common practice, no source.
MATERIALS: Mapping[str, Material] = MappingProxyType(
    {key: Material(key, name, group, key in RESISTANCE_MEGOHM) for group, key, name in _NAMES}
)
COMMON_MATERIALS: tuple[str, ...] = tuple(MATERIALS)[:13]


def corrected_mc(reading_pct: float, material: str, wood_temp_c: float) -> CorrectedReading:
    """The moisture content that a pin meter's reading stands for.

    reading_pct: as shown, on the meter's Douglas-fir scale, 0 to 200. material: a key of MATERIALS.
    wood_temp_c: of the wood, not the air, -20 to 60.

    Temperature first: 0.1 point per degree is added below 20 C and taken off above. The rule is stated for the
    meter's own scale, and the species table compares woods at one temperature, so the reading is brought there
    before it is looked up. Then species: the resistance behind the reading in the Douglas-fir column, and the
    moisture content at the same resistance in the wood's own, both linear in the logarithm of the resistance.
    The table is for 80 F; that two woods keep their distance between 68 and 80 F is assumed.

    Where either column ends (below 7 or above 25 %) nothing is extrapolated: the points found at the end of the
    table are kept for everything beyond it, so a higher reading never gives a lower result. Results below 0 are 0.
    Panels stay as read. Wood of unknown kind is corrected for temperature alone.

    Raises ValueError if material is unknown or a number is outside its range.
    Source: temperature, a pin meter's manual (half a point per 5 C about 20 C; G. Wengert 2009 gives 1 point per
    20 F about 70 F, nearly the same); species, James 1988, FPL-GTR-6. Another maker's chart is up to one point
    stronger at 10, 40 and 50 C: TEMPERATURE_RULES_DIFFER_POINTS.
    """
    check_range("reading_pct", reading_pct, READING_RANGE_PCT)
    check_range("wood_temp_c", wood_temp_c, WOOD_TEMP_RANGE_C)
    wood = _material(material)
    if wood.group == "panel":
        return CorrectedReading(float(reading_pct), _panel_words(wood, wood_temp_c))
    scale_pct = reading_pct + POINTS_PER_C * (SCALE_TEMP_C - wood_temp_c)
    points, is_beyond = _species_points(material, scale_pct) if wood.is_corrected else (0.0, False)
    return CorrectedReading(max(scale_pct + points, 0.0), _wood_words(wood, wood_temp_c, is_beyond))


def resistance_megohm(material: str, mc_pct: float) -> float:
    """Resistance [megohm] between the pins in a wood of the table at 80 F, mc_pct from 7 to 25.

    Linear between the table's whole percents in the logarithm of the resistance. Source: James 1988, FPL-GTR-6.
    Raises ValueError if material has no column, or mc_pct is outside its column (two start at 8 %).
    """
    if not _material(material).is_corrected:
        raise ValueError(f"material must have a column in the resistance table, got {material!r}")
    mcs_pct, logs = _column(material)
    check_range("mc_pct", mc_pct, (mcs_pct[0], LAST_MC_PCT))
    return math.exp(float(np.interp(mc_pct, mcs_pct, logs)))


def _species_points(material: str, scale_pct: float) -> tuple[float, bool]:
    """Points to add to a reading on the Douglas-fir scale, and whether the table had to be left for it."""
    mcs_pct, logs = _column(material)
    scale_mcs_pct, scale_logs = _column(SCALE_SPECIES)
    first_log, last_log = min(logs[0], scale_logs[0]), max(logs[-1], scale_logs[-1])
    first_pct, last_pct = (_mc_at(log, scale_mcs_pct, scale_logs) for log in (first_log, last_log))
    held_pct = min(max(scale_pct, first_pct), last_pct)
    log = float(np.interp(held_pct, scale_mcs_pct, scale_logs))
    return _mc_at(log, mcs_pct, logs) - held_pct, held_pct != scale_pct


def _mc_at(log: float, mcs_pct: tuple[float, ...], logs: tuple[float, ...]) -> float:
    # Resistance falls as moisture rises; np.interp wants rising abscissae.
    return float(np.interp(-log, [-value for value in logs], mcs_pct))


@cache
def _column(material: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Moisture contents [%] and natural logarithms of the resistance [megohm], blank cells left out."""
    cells = zip(range(FIRST_MC_PCT, LAST_MC_PCT + 1), RESISTANCE_MEGOHM[material], strict=True)
    known = [(float(mc_pct), math.log(megohm)) for mc_pct, megohm in cells if megohm is not None]
    return tuple(mc_pct for mc_pct, _ in known), tuple(log for _, log in known)


def _wood_words(wood: Material, wood_temp_c: float, is_beyond: bool) -> str:
    at_temp = f"at {_fahrenheit(wood_temp_c)} F"
    words = [f"corrected for {wood.name} {at_temp}" if wood.is_corrected else f"corrected for wood {at_temp} only"]
    if not wood.is_corrected:
        words.append("kind of wood not known")
    if is_beyond:
        words.append("beyond the correction table, its last correction kept")
    if not RULE_TEMPS_C[0] <= wood_temp_c <= RULE_TEMPS_C[1]:
        words.append("temperature rule stretched, rough")
    return "; ".join(words)


def _panel_words(panel: Material, wood_temp_c: float) -> str:
    words = f"as read: no published correction for {panel.name}"
    # The manual's own dead zone: within 5 C of 20 C no correction is called for.
    if wood_temp_c < SCALE_TEMP_C - 5:
        return f"{words}; cold material reads low"
    if wood_temp_c > SCALE_TEMP_C + 5:
        return f"{words}; warm material reads high"
    return words


def _fahrenheit(temp_c: float) -> int:
    return round(temp_c * 1.8 + 32)


def _material(key: str) -> Material:
    if key not in MATERIALS:
        raise ValueError(f"material must be a key of MATERIALS, got {key!r}")
    return MATERIALS[key]
