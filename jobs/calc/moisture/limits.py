"""The figures by which a place is judged, and where each comes from. A shop may edit them within their range."""

from dataclasses import dataclass

from jobs.calc.moisture.evidence import check_range


@dataclass(frozen=True)
class Limit:
    """A figure the rules use and a shop may edit, between lowest and highest [unit], and where it comes from."""

    key: str
    name: str
    default: float
    unit: str
    lowest: float
    highest: float
    origin: str


LIMITS: tuple[Limit, ...] = (
    Limit(
        key="close_in_pct",
        name="Close-in limit, framing",
        default=19.0,
        unit="pct",
        lowest=10.0,
        highest=20.0,
        origin="CALGreen 4.505.3 and Oregon R318.2: 19 % for framing. Not above 20 %, the rule against decay "
        "(Wood Handbook ch. 14, sentence from memory). Local code comes first.",
    ),
    Limit(
        key="panel_close_in_pct",
        name="Close-in limit, decking and panels",
        default=16.0,
        unit="pct",
        lowest=6.0,
        highest=19.0,
        origin="Anecdotal, no code found: one engineer reports 16 % as usual before roofing (SEAINT list, 1997).",
    ),
    Limit(
        key="soft_from_mm",
        name="Sound material stops an awl by",
        default=3.175,
        unit="mm",
        lowest=0.5,
        highest=6.35,
        origin="Common practice, no source: 1/8 in (3.2 mm), pushed by hand.",
    ),
    Limit(
        key="replace_beyond_mm",
        name="Cut out when soft beyond",
        default=9.525,
        unit="mm",
        lowest=1.0,
        highest=25.4,
        origin="Common practice, no source: 3/8 in (9.5 mm).",
    ),
    Limit(
        key="meter_low_pct",
        name="Dry end of your meter",
        default=7.0,
        unit="pct",
        lowest=1.0,
        highest=12.0,
        origin="Pin meters are reliable from about 7 % (two meters' manuals). Yours may say otherwise.",
    ),
    Limit(
        key="meter_high_pct",
        name="Wet end of your meter",
        default=40.0,
        unit="pct",
        lowest=25.0,
        highest=120.0,
        origin="Common practice, no source: many scales end at 40 %. See the manual of yours. "
        "Above fibre saturation, about 30 %, a pin meter shows the order of wetness only.",
    ),
)
_DEFAULT = {limit.key: limit.default for limit in LIMITS}


@dataclass(frozen=True)
class Limits:
    """A shop's own limits: moisture [% of oven-dry mass], awl depths [mm]. LIMITS holds range and origin of each.

    Raises ValueError if one lies outside its range, or sound material lets the awl in as far as the replace limit.
    """

    close_in_pct: float = _DEFAULT["close_in_pct"]
    panel_close_in_pct: float = _DEFAULT["panel_close_in_pct"]
    soft_from_mm: float = _DEFAULT["soft_from_mm"]
    replace_beyond_mm: float = _DEFAULT["replace_beyond_mm"]
    meter_low_pct: float = _DEFAULT["meter_low_pct"]
    meter_high_pct: float = _DEFAULT["meter_high_pct"]

    def __post_init__(self) -> None:
        for limit in LIMITS:
            check_range(limit.key, getattr(self, limit.key), limit.lowest, limit.highest)
        if not self.soft_from_mm < self.replace_beyond_mm:
            raise ValueError(
                f"soft_from_mm must be below replace_beyond_mm ({self.replace_beyond_mm!r}), got {self.soft_from_mm!r}"
            )
