"""The stations of the demo and how each dries."""

import math
from dataclasses import dataclass

from jobs.calc.faces import Face


@dataclass(frozen=True)
class Spot:
    """A station of the demo and how it dries: from wet_pct toward rest_pct [%], a share an hour."""

    face: Face
    left_ft: float
    top_ft: float
    layer: str
    material: str
    wet_pct: float
    rest_pct: float
    share_per_h: float
    note: str = ""

    def shows(self, hours: float) -> float:
        """The meter value after some hours, with a meter's half point either way."""
        wiggle = 0.5 * math.sin(2.4 * hours + 7.0 * self.left_ft)
        dried = (self.wet_pct - self.rest_pct) * math.exp(-self.share_per_h * hours)
        return round(self.rest_pct + dried + wiggle, 1)


WALL_SPOTS = (
    Spot(Face.CURB_SIDE, 15.0, 7.2, "framing", "spruce_sitka", 27.5, 9.0, 0.0068, "sill, left of the window"),
    Spot(Face.CURB_SIDE, 17.5, 7.4, "framing", "spruce_sitka", 31.0, 9.0, 0.0066, "sill, below the window"),
    Spot(Face.CURB_SIDE, 17.5, 5.0, "framing", "spruce_sitka", 24.0, 9.0, 0.0090, "stud, halfway up"),
    Spot(Face.CURB_SIDE, 20.5, 7.0, "framing", "spruce_sitka", 25.0, 9.0, 0.0085, "sill, right of the window"),
    Spot(Face.CURB_SIDE, 16.5, 6.0, "inner_panel", "plywood", 22.0, 8.0, 0.0140, "back of the wall panel"),
    Spot(Face.CURB_SIDE, 24.0, 6.0, "framing", "spruce_sitka", 11.5, 9.0, 0.0100, "never wet: to compare with"),
)
# Water still comes in at the first; the second is shut in behind the cap.
HEADER_SPOTS = (
    Spot(Face.FRONT, 1.5, 0.3, "framing", "hemlock_western", 24.0, 39.0, 0.0120, "header, road side"),
    Spot(Face.FRONT, 4.0, 0.3, "framing", "hemlock_western", 30.5, 9.0, 0.0060, "header, middle"),
    Spot(Face.FRONT, 6.5, 1.5, "framing", "hemlock_western", 43.0, 9.0, 0.0050, "stud, curb side"),
)
