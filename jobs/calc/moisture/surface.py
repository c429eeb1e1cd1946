"""Moisture between the stations of one face, as far as a reading can be trusted, and how wet each spot is in words."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

# Planning assumption, no source: how far from a station a shop would still believe its reading.
REACH_MM: Final = 600.0
# Planning assumption, no source: far finer than readings are apart, coarse enough to work out in milliseconds.
CELL_MM: Final = 50.0
MAX_NODES_PER_EDGE: Final = 2000

# Wood Handbook (FPL-GTR-190, 2010) ch. 14: the fibre saturation point is about 30 % on average.
FIBRE_SATURATION_PCT: Final = 30.0
# Planning assumption, no source: what lies this close over the limit is nearly there.
NEARLY_POINTS: Final = 4.0
# Planning assumption, no source: the top of many meters' scales.
SODDEN_PCT: Final = 40.0

HATCH_CLASSES: Final = range(5)


@dataclass(frozen=True)
class StationValue:
    """A station on a face: its place from the datum edges [mm] and its moisture content [% of dry mass]."""

    left_mm: float
    top_mm: float
    mc_pct: float


@dataclass(frozen=True, eq=False)
class Field:
    """Moisture on a grid over one face. mc_pct[row, column] belongs to (left_mm[column], top_mm[row]).

    The grid takes in all four edges. mc_pct is NaN where no station is near.
    """

    left_mm: Numbers
    top_mm: Numbers
    mc_pct: Numbers

    @property
    def measured_share(self) -> float:
        """The share of the grid that a station vouches for, 0 to 1."""
        return float(np.mean(np.isfinite(self.mc_pct)))


def moisture_field(
    stations: Sequence[StationValue],
    width_mm: float,
    height_mm: float,
    *,
    cell_mm: float = CELL_MM,
    reach_mm: float = REACH_MM,
) -> Field:
    """Moisture over one face [% of dry mass] from its own stations alone; NaN beyond reach_mm of all of them.

    width_mm, height_mm: size of the face. cell_mm: the grid's spacing, made a little smaller so that it fits.
    How values between stations come about: see `moisture_at`.
    Raises ValueError if a size, cell_mm or reach_mm is not above 0, if the grid would have more than 2000 nodes
    along an edge, or if a station is not on the face or its moisture content is not a number of 0 or more.
    """
    for name, value in [("width_mm", width_mm), ("height_mm", height_mm)]:
        _check_above_zero(name, value)
    _check_on_face(stations, width_mm, height_mm)
    left_mm, top_mm = _nodes("width_mm", width_mm, cell_mm), _nodes("height_mm", height_mm, cell_mm)
    across, down = np.meshgrid(left_mm, top_mm)
    return Field(left_mm, top_mm, moisture_at(stations, across, down, reach_mm=reach_mm))


def moisture_at(
    stations: Sequence[StationValue], left_mm: Numbers, top_mm: Numbers, *, reach_mm: float = REACH_MM
) -> Numbers:
    """Moisture [% of dry mass] at points of the stations' face, NaN beyond reach_mm of all of them.

    A mean of the stations in reach, weighted by ((reach - d) / (reach * d))^2 with d the distance: inverse
    distance, brought to zero at the end of the reach so that no station comes in with a jump. So a value lies
    within the range of the stations in reach, is the station's own at a station (the mean, where several share one
    spot), and does not depend on their order. Raises ValueError as `moisture_field` does.
    Source: inverse-distance weighting is Shepard's (1968), this weight Franke's and Little's; both from memory.
    """
    _check_above_zero("reach_mm", reach_mm)
    _check_values(stations)
    if not stations:
        return np.full(np.broadcast(left_mm, top_mm).shape, np.nan)
    places = np.array([(each.left_mm, each.top_mm) for each in stations])
    values = np.array([each.mc_pct for each in stations])
    distance = np.hypot(left_mm[..., None] - places[:, 0], top_mm[..., None] - places[:, 1])
    return _mean_in_reach(distance, values, reach_mm)


def class_edges_pct(limit_pct: float) -> tuple[float, float, float, float]:
    """Upper ends [% of dry mass] of the hatch classes 0 to 3; class 4 has none. An end belongs to its class.

    The limit; 4 points above it (planning assumption); fibre saturation, 30 % on average (Wood Handbook,
    FPL-GTR-190, ch. 14), above which cell hollows hold free water and a meter is approximate only; 40 %, the top
    of many meters' scales (planning assumption). Raises ValueError unless limit_pct is above 0 and at most 26, so
    that the ends rise.
    """
    highest_pct = FIBRE_SATURATION_PCT - NEARLY_POINTS
    if not 0 < limit_pct <= highest_pct:
        raise ValueError(f"limit_pct must be above 0 and at most {highest_pct:g}, got {limit_pct!r}")
    return (limit_pct, limit_pct + NEARLY_POINTS, FIBRE_SATURATION_PCT, SODDEN_PCT)


def hatch_class(mc_pct: float, limit_pct: float) -> int:
    """How wet, 0 (at or under the close-in limit) to 4 (sodden); see `class_edges_pct` for the ends.

    Raises ValueError if mc_pct [% of dry mass] is not a number of 0 or more, or limit_pct is out of its range.
    """
    _check_mc("mc_pct", mc_pct)
    return sum(mc_pct > edge for edge in class_edges_pct(limit_pct))


def class_words(number: int, limit_pct: float) -> str:
    """What a hatch class means. Raises ValueError if number is not 0 to 4, or limit_pct is out of its range."""
    if number not in HATCH_CLASSES:
        raise ValueError(f"number must be 0 to 4, got {number!r}")
    limit, nearly, saturated, sodden = (f"{edge:g} %" for edge in class_edges_pct(limit_pct))
    return (
        f"up to {limit}, the limit",
        f"up to {nearly}, nearly there",
        f"up to {saturated}, wet",
        f"up to {sodden}, very wet",
        f"above {sodden}, sodden",
    )[number]


def _mean_in_reach(distance: Numbers, values: Numbers, reach_mm: float) -> Numbers:
    """Weighted means over the last axis; NaN where no station is in reach."""
    with np.errstate(divide="ignore", over="ignore"):
        weights = np.square(np.clip(1 / distance - 1 / reach_mm, 0, None))
    # At a station (or so near that its weight overflows) it alone counts.
    at_station = ~np.isfinite(weights)
    weights = np.where(at_station.any(axis=-1, keepdims=True), at_station.astype(float), weights)
    total = weights.sum(axis=-1)
    with np.errstate(invalid="ignore"):
        mean = (weights / total[..., None]) @ values
    # Rounding must not carry a mean past the stations it is made of.
    near = weights > 0
    lowest = np.where(near, values, np.inf).min(axis=-1)
    highest = np.where(near, values, -np.inf).max(axis=-1)
    return np.where(total > 0, np.clip(mean, lowest, highest), np.nan)


def _nodes(name: str, size_mm: float, cell_mm: float) -> Numbers:
    _check_above_zero("cell_mm", cell_mm)
    cells = max(1, math.ceil(size_mm / cell_mm))
    if cells >= MAX_NODES_PER_EDGE:
        raise ValueError(f"cell_mm must be at least {name} / {MAX_NODES_PER_EDGE - 1}, got {cell_mm!r}")
    return np.linspace(0.0, size_mm, cells + 1)


def _check_on_face(stations: Sequence[StationValue], width_mm: float, height_mm: float) -> None:
    for station in stations:
        for name, value, end in [("left_mm", station.left_mm, width_mm), ("top_mm", station.top_mm, height_mm)]:
            if not 0 <= value <= end:
                raise ValueError(f"{name} of a station must be 0 to {end:g} on this face, got {value!r}")


def _check_values(stations: Sequence[StationValue]) -> None:
    for station in stations:
        _check_mc("mc_pct of a station", station.mc_pct)
        for name, value in [("left_mm", station.left_mm), ("top_mm", station.top_mm)]:
            if not math.isfinite(value):
                raise ValueError(f"{name} of a station must be a number, got {value!r}")


def _check_mc(name: str, mc_pct: float) -> None:
    if not 0 <= mc_pct < math.inf:
        raise ValueError(f"{name} must be 0 or more, got {mc_pct!r}")


def _check_above_zero(name: str, value: float) -> None:
    if not 0 < value < math.inf:
        raise ValueError(f"{name} must be above 0, got {value!r}")
