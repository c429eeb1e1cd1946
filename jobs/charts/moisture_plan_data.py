"""A coach unfolded with its stations: what a moisture plan shows, and the same in words. Draws nothing."""

import math
from collections import Counter
from dataclasses import dataclass
from typing import Final

from jobs.calc.faces import TOLERANCE_MM
from jobs.calc.moisture.surface import REACH_MM, Field, StationValue, class_edges_pct, moisture_field
from jobs.charts.drying_data import ReadingKind

CELL_MM: Final = 20.0


@dataclass(frozen=True)
class PlanFace:
    """A face where the body plan has it [mm] (see `jobs.calc.faces.unfold`)."""

    name: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class PlanStation:
    """A station on the face of that name, with its last reading: mc_pct [% of dry mass], None if not read.

    kind "low" and "high": the wood lies beyond the meter's scale, whose end is mc_pct.
    """

    number: int
    face: str
    left_mm: float
    top_mm: float
    mc_pct: float | None
    kind: ReadingKind = "value"

    def __post_init__(self) -> None:
        if self.kind not in ("value", "low", "high"):
            raise ValueError(f"kind must be 'value', 'low' or 'high', got {self.kind!r}")
        if self.mc_pct is not None and not 0 <= self.mc_pct <= 1000:
            raise ValueError(f"mc_pct must be 0 to 1000, got {self.mc_pct!r}")

    @property
    def drawn_pct(self) -> float | None:
        """What the surface is drawn from; beyond the scale its end, at the top a hair more, to count as over."""
        if self.mc_pct is None or self.kind != "high":
            return self.mc_pct
        return math.nextafter(self.mc_pct, math.inf)

    @property
    def words(self) -> str:
        """What the meter said: 24 %, > 40 %, or nothing."""
        if self.mc_pct is None:
            return ""
        return {"value": "", "low": "< ", "high": "> "}[self.kind] + f"{self.mc_pct:.0f} %"


@dataclass(frozen=True)
class MoisturePlan:
    """One layer of a coach at one time. Raises ValueError if a station is not on one of the faces.

    layer: in words, such as "framing". taken_at_words: when it was read, as it is to be printed. limit_pct: the
    close-in limit [% of dry mass]. reach_mm: how far from a station its reading is believed.
    """

    layer: str
    taken_at_words: str
    limit_pct: float
    faces: tuple[PlanFace, ...]
    stations: tuple[PlanStation, ...]
    reach_mm: float = REACH_MM

    def __post_init__(self) -> None:
        class_edges_pct(self.limit_pct)
        if not self.faces:
            raise ValueError("faces must not be empty")
        for station in self.stations:
            face = self.face_of(station)
            for name, value, end in [
                ("left_mm", station.left_mm, face.width_mm),
                ("top_mm", station.top_mm, face.height_mm),
            ]:
                if not 0 <= value <= end + TOLERANCE_MM:
                    raise ValueError(f"{name} of station {station.number} must be 0 to {end:g}, got {value!r}")

    @property
    def title(self) -> str:
        return f"Moisture of the {self.layer}"

    def face_of(self, station: PlanStation) -> PlanFace:
        for face in self.faces:
            if face.name == station.face:
                return face
        raise ValueError(f"face of station {station.number} must be one of the faces, got {station.face!r}")

    def field_on(self, face: PlanFace) -> Field:
        """Moisture over one face, from its own stations."""
        values = [
            StationValue(min(each.left_mm, face.width_mm), min(each.top_mm, face.height_mm), mc_pct)
            for each in self.stations
            if each.face == face.name and (mc_pct := each.drawn_pct) is not None
        ]
        return moisture_field(values, face.width_mm, face.height_mm, cell_mm=CELL_MM, reach_mm=self.reach_mm)


def plan_words(plan: MoisturePlan) -> str:
    """The plan in words: how many stations, how many over the limit, the wettest, and where nothing was read."""
    read = [station for station in plan.stations if station.mc_pct is not None]
    said = [f"{plan.title}, {plan.taken_at_words}: {len(read)} of {len(plan.stations)} stations read"]
    if read:
        over = sum((each.mc_pct or 0) > plan.limit_pct for each in read)
        wettest = max(read, key=lambda each: (each.mc_pct or 0, -each.number))
        value = {"value": "", "low": "under ", "high": "over "}[wettest.kind] + f"{wettest.mc_pct:.0f} %"
        said[0] += f", {over} of them above the close-in limit of {plan.limit_pct:.3g} %."
        said.append(f"The wettest is station {wettest.number} on the {wettest.face} at {value}.")
    else:
        said[0] += f"; the close-in limit is {plan.limit_pct:.3g} %."
    count = Counter(station.face for station in read)
    blank = [face.name for face in plan.faces if not count[face.name]]
    if blank:
        said.append(f"Nothing was measured on: {', '.join(blank)}.")
    return " ".join(said)
