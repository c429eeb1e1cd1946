"""What may be noted about a finding: its kind, the member it is in, and what was measured, heard and seen.

The values are those the finding's own row keeps.
"""

from dataclasses import dataclass
from enum import StrEnum

# What form and database take; far wetter than any wood in a coach.
HIGHEST_MOISTURE_PCT = 200.0


class Kind(StrEnum):
    WET_INSULATION = "wet_insulation"
    STAINED_FRAMING = "stained_framing"
    ROTTEN_FRAMING = "rotten_framing"
    LOOSE_DECKING = "loose_decking"
    LOOSE_SKIN = "loose_skin"
    FAILED_SEAL = "failed_seal"
    EXPOSED_WIRE = "exposed_wire"
    MOULD = "mould"
    CORROSION = "corrosion"
    OTHER = "other"


class TapSound(StrEnum):
    SOLID = "solid"
    DULL = "dull"
    HOLLOW = "hollow"
    CRUNCHY = "crunchy"


class Look(StrEnum):
    CLEAN = "clean"
    STAINED = "stained"
    MOULD = "mould"
    INSECTS = "insects"
    DELAMINATED = "delaminated"
    CORRODED = "corroded"


MEMBERS: tuple[tuple[str, str], ...] = (
    ("roof_framing", "roof framing"),
    ("wall_framing", "wall framing"),
    ("floor_framing", "floor framing"),
    ("sill", "sill (plate)"),
    ("roof_decking", "roof decking"),
    ("floor_decking", "floor decking"),
    ("inner_panel", "inner panel"),
    ("skin", "skin"),
    ("insulation", "insulation"),
    ("wiring", "wiring"),
    ("other", "something else"),
)
MEMBER_KEYS = frozenset(key for key, _ in MEMBERS)
# What carries people, loads or the walls themselves.
STRUCTURAL = frozenset({"roof_framing", "wall_framing", "floor_framing", "sill", "roof_decking", "floor_decking"})


@dataclass(frozen=True)
class Evidence:
    """What is known at the place of a finding; None or "" where nothing was noted.

    kind, member, tap_sound, look: values of Kind, MEMBERS, TapSound, Look. member_thickness_mm: above 0 [mm].
    moisture_pct: corrected, 0 to 200 [% of oven-dry mass]; latest, or of the wettest station there.
    is_out_of_range_high: the meter showed more than it can measure. is_wet: wet to the touch.
    probe_depth_mm: how far an awl goes in, 0 or more, at most the member's thickness [mm].
    Raises ValueError if any of them is not so.
    """

    kind: str
    member: str = ""
    member_thickness_mm: float | None = None
    moisture_pct: float | None = None
    is_out_of_range_high: bool = False
    is_wet: bool | None = None
    probe_depth_mm: float | None = None
    tap_sound: str = ""
    look: str = ""

    def __post_init__(self) -> None:
        check_word("kind", self.kind, {*Kind})
        check_word("member", self.member, {"", *MEMBER_KEYS})
        check_word("tap_sound", self.tap_sound, {"", *TapSound})
        check_word("look", self.look, {"", *Look})
        if self.moisture_pct is not None:
            check_range("moisture_pct", self.moisture_pct, 0.0, HIGHEST_MOISTURE_PCT)
        _check_depth(self.probe_depth_mm, self.member_thickness_mm)


def check_word(name: str, value: str, allowed: set[str]) -> None:
    """Raises ValueError if the named value is not one of those allowed."""
    if value not in allowed:
        raise ValueError(f"{name} must be one of {sorted(allowed)}, got {value!r}")


def check_range(name: str, value: float, lowest: float, highest: float) -> None:
    """Raises ValueError if the named value is not lowest to highest."""
    if not lowest <= value <= highest:
        raise ValueError(f"{name} must be {lowest:g} to {highest:g}, got {value!r}")


def _check_depth(depth_mm: float | None, thickness_mm: float | None) -> None:
    if thickness_mm is not None and not 0 < thickness_mm < float("inf"):
        raise ValueError(f"member_thickness_mm must be above 0, got {thickness_mm!r}")
    if depth_mm is not None and not 0 <= depth_mm < float("inf"):
        raise ValueError(f"probe_depth_mm must be 0 or more, got {depth_mm!r}")
    if depth_mm is not None and thickness_mm is not None and depth_mm > thickness_mm:
        raise ValueError(f"probe_depth_mm must be at most member_thickness_mm ({thickness_mm!r}), got {depth_mm!r}")
