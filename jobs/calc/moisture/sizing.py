"""How many blowers and how much dehumidifier to start drying with.

First set-up only: from the second day on the readings say what to add or take away. The rules are those of
houses, a coach counts as one affected room; that carry-over is common practice, no source.
"""

import math
from dataclasses import dataclass
from typing import Final, Literal

from jobs.calc.moisture.ranges import check_range

WaterClass = Literal[1, 2, 3, 4]

M2_PER_SQ_FT = 0.3048**2
M3_PER_CUBIC_FT = 0.3048**3
AREA_RANGE_M2 = (0.0, 10_000.0)
VOLUME_RANGE_M3 = (0.1, 10_000.0)
COUNT_RANGE = (0, 1000)

# Square feet for one blower, (most, fewest): the published span.
FLOOR_SQ_FT: Final = (70, 50)
UPPER_SQ_FT: Final = (150, 100)
# Cubic feet of room for each pint a day, conventional refrigerant machines, by class of water.
CUBIC_FT_PER_PINT: Final = {1: 100, 2: 40, 3: 30}
CLASS_LIMITS: Final = (0.05, 0.40)
# A sum that is whole but for the noise of unit conversion is not rounded up to the next machine.
NOISE = 1e-6

BLOWER_SOURCE = (
    "ANSI/IICRC S500-2021 as quoted by a member of its consensus body: 1 for each affected room, "
    "1 for each 50 to 70 sq ft of wet floor, 1 for each 100 to 150 sq ft of wet ceiling and wall above 2 ft, "
    "1 for each inset deeper than 18 in. The standard itself was not seen."
)
CLASS_SOURCE = "published trade guidance: class 1 under 5 %, 2 from 5 to 40 %, 3 over 40 % of the porous surface wet"
DEHUMIDIFIER_SOURCE = (
    "published table of initial dehumidifier requirements, conventional refrigerant machines: cubic feet of air "
    "divided by 100, 40 or 30 for water of class 1, 2 or 3"
)
# The angle is quoted with the rule; the cautions about mould and amperes are common practice, no source.
BLOWER_NOTES = (
    "The sum is rounded up to whole blowers; how the standard rounds was not seen.",
    "Aim them 5 to 45 degrees to the wall, all the same way round.",
    "Find and stop the water first. No blower on visible mould: it spreads it.",
    "Add up the amperes on their labels before several go on one circuit or shore cord.",
)
DEHUMIDIFIER_NOTES = (
    "Pints a day as rated at 80 F and 60 % relative humidity.",
    "Labels since 2020 are rated at 65 F and show less: what was a 30-pint machine is about a 20-pint one.",
    "Refrigerant machines work at 70 to 90 F (21 to 32 C).",
    "A first figure: adjust it by the readings.",
)
DEEP_WATER_WORDS = (
    "Water is held deep in dense or slow material (class 4). The published table gives no figure for refrigerant "
    "machines here, so none is worked out. Open it up or ask a drying specialist."
)


@dataclass(frozen=True)
class Advice:
    """How much of what. low and high are the ends of the published rule and may be equal.

    source and notes are sentences to show beside the figure.
    """

    low: float
    high: float
    unit: str
    source: str
    notes: tuple[str, ...]

    @property
    def text(self) -> str:
        """Such as "4 to 5 blowers", never less than the figure."""
        low, high = _whole(self.low), _whole(self.high)
        return f"{low} {self.unit}" if low == high else f"{low} to {high} {self.unit}"


@dataclass(frozen=True)
class NoAdvice:
    """No figure can be given; why, in words to show."""

    words: str
    source: str


def blowers_needed(*, wet_floor_m2: float, wet_upper_m2: float = 0.0, insets: int = 0, rooms: int = 1) -> Advice:
    """Blowers (air movers) to set up, as a range in whole machines.

    wet_floor_m2: wet floor; the walls up to about 2 ft above it are covered by it. wet_upper_m2: wet ceiling and
    wall above that. insets: places off the room deeper than 18 in. rooms: affected rooms, at least 1.
    The sum of all terms is rounded up once, not each term: the published text does not say which.
    Raises ValueError if a number is outside its range.
    Source: BLOWER_SOURCE.
    """
    check_range("wet_floor_m2", wet_floor_m2, AREA_RANGE_M2)
    check_range("wet_upper_m2", wet_upper_m2, AREA_RANGE_M2)
    check_range("insets", insets, COUNT_RANGE)
    check_range("rooms", rooms, (1, COUNT_RANGE[1]))
    floor_sq_ft, upper_sq_ft = wet_floor_m2 / M2_PER_SQ_FT, wet_upper_m2 / M2_PER_SQ_FT
    low, high = (
        _whole(rooms + floor_sq_ft / per_floor + upper_sq_ft / per_upper + insets)
        for per_floor, per_upper in zip(FLOOR_SQ_FT, UPPER_SQ_FT, strict=True)
    )
    return Advice(low, high, "blower" if high == 1 else "blowers", BLOWER_SOURCE, BLOWER_NOTES)


def water_class(wet_area_m2: float, total_area_m2: float, *, is_deep: bool) -> WaterClass:
    """Class of water, 1 to 4, by the share of the porous surface (floor, walls, ceiling) that is wet.

    is_deep: water is held in dense or slow materials; that is class 4 whatever the share.
    The limits 5 and 40 % themselves belong to class 2. Source: CLASS_SOURCE.
    Raises ValueError if an area is outside its range, or more is wet than there is.
    """
    check_range("total_area_m2", total_area_m2, (0.01, AREA_RANGE_M2[1]))
    check_range("wet_area_m2", wet_area_m2, (0.0, total_area_m2))
    if is_deep:
        return 4
    share = wet_area_m2 / total_area_m2
    if share < CLASS_LIMITS[0]:
        return 1
    return 2 if share <= CLASS_LIMITS[1] else 3


def dehumidifier_pints_per_day(volume_m3: float, water: WaterClass) -> Advice | NoAdvice:
    """Pints of water a day that conventional refrigerant dehumidifiers should be rated for at 80 F and 60 %.

    volume_m3: air in the coach, 0.1 to 10 000. water: its class. Class 4 has no divisor: NoAdvice, in words.
    Low-grain and desiccant machines are left out: no published factor was found.
    Raises ValueError if volume_m3 is outside its range or water is not 1 to 4.
    Source: DEHUMIDIFIER_SOURCE.
    """
    check_range("volume_m3", volume_m3, VOLUME_RANGE_M3)
    if water not in (1, 2, 3, 4):
        raise ValueError(f"water must be 1, 2, 3 or 4, got {water!r}")
    if water == 4:
        return NoAdvice(DEEP_WATER_WORDS, DEHUMIDIFIER_SOURCE)
    pints = volume_m3 / M3_PER_CUBIC_FT / CUBIC_FT_PER_PINT[water]
    return Advice(pints, pints, "pints of water a day", DEHUMIDIFIER_SOURCE, DEHUMIDIFIER_NOTES)


def _whole(exact: float) -> int:
    return math.ceil(exact - NOISE)
