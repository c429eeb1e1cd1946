"""What follows from the evidence directly: what is judged, how wet, how soft, which signs, in numbers and words."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum, auto
from functools import cached_property

from jobs.calc.lengths import print_length
from jobs.calc.moisture.evidence import Evidence, Kind, Look, TapSound
from jobs.calc.moisture.limits import Limits

# Below this metric lengths keep one decimal: 3/8 in would print as 10 mm.
FINE_BELOW_MM = 100.0
PARTED = "Its layers have come apart."


class Subject(Enum):
    FRAME = auto()
    PANEL = auto()
    SKIN = auto()
    METAL = auto()
    INSULATION = auto()
    WIRING = auto()


_WOOD = {Subject.FRAME, Subject.PANEL}
_NEVER_PROBED = {Subject.INSULATION, Subject.WIRING}
_SUBJECT_OF_MEMBER = {
    "roof_decking": Subject.PANEL,
    "floor_decking": Subject.PANEL,
    "inner_panel": Subject.PANEL,
    "skin": Subject.SKIN,
    "insulation": Subject.INSULATION,
    "wiring": Subject.WIRING,
}
_SUBJECT_OF_KIND = {
    Kind.EXPOSED_WIRE: Subject.WIRING,
    Kind.LOOSE_SKIN: Subject.SKIN,
    Kind.LOOSE_DECKING: Subject.PANEL,
}
# These say what was found; a member of wood says where.
_USUAL_SUBJECT = {
    Kind.STAINED_FRAMING: Subject.FRAME,
    Kind.ROTTEN_FRAMING: Subject.FRAME,
    Kind.WET_INSULATION: Subject.INSULATION,
}


def _subject_of(evidence: Evidence) -> Subject:
    """What is judged: by the kind where it leaves no doubt, else by the member, else as wood in the frame."""
    kind = Kind(evidence.kind)
    if kind in _SUBJECT_OF_KIND:
        return _SUBJECT_OF_KIND[kind]
    by_member = _SUBJECT_OF_MEMBER.get(evidence.member, Subject.FRAME)
    if kind is Kind.CORROSION:
        return Subject.WIRING if by_member is Subject.WIRING else Subject.METAL
    if kind in _USUAL_SUBJECT and (evidence.member in {"", "other"} or by_member not in _WOOD):
        return _USUAL_SUBJECT[kind]
    return by_member


def close_in_limit_pct(evidence: Evidence, limits: Limits) -> float:
    """The moisture at or below which this place may be closed in [% of oven-dry mass]."""
    return limits.panel_close_in_pct if _subject_of(evidence) is Subject.PANEL else limits.close_in_pct


class Depth(Enum):
    UNPROBED = auto()
    FIRM = auto()
    SOFT = auto()
    GONE = auto()


READING, PROBE, TAP, LOOK = "a moisture reading", "a probe with an awl", "a tap", "a look"
THICKNESS = "how thick the member is"


@dataclass(frozen=True)
class Case:
    """The evidence with what follows from it directly."""

    evidence: Evidence
    limits: Limits
    units: str

    @cached_property
    def subject(self) -> Subject:
        return _subject_of(self.evidence)

    @cached_property
    def limit_pct(self) -> float:
        return close_in_limit_pct(self.evidence, self.limits)

    @cached_property
    def is_read(self) -> bool:
        return self.evidence.moisture_pct is not None or self.evidence.is_out_of_range_high

    @cached_property
    def reads_wet(self) -> bool:
        return self.evidence.is_out_of_range_high or (self.evidence.moisture_pct or 0.0) > self.limit_pct

    @cached_property
    def is_posted_wet(self) -> bool:
        """Posted as wet insulation, and nothing noted since says otherwise."""
        is_silent = self.evidence.is_wet is None and not self.is_read
        return self.evidence.kind == Kind.WET_INSULATION and is_silent

    @cached_property
    def is_wet(self) -> bool:
        return self.reads_wet or self.evidence.is_wet is True or self.is_posted_wet

    @cached_property
    def is_dry(self) -> bool:
        """Dry enough to judge. A hand cannot tell 15 % from 25 % in wood, so wood needs a reading."""
        return not self.is_wet and (self.is_read or self.subject not in _WOOD)

    @cached_property
    def is_through(self) -> bool:
        thickness_mm = self.evidence.member_thickness_mm
        return thickness_mm is not None and (self.evidence.probe_depth_mm or 0.0) >= thickness_mm

    @cached_property
    def depth(self) -> Depth:
        depth_mm = self.evidence.probe_depth_mm
        if depth_mm is None or self.subject in _NEVER_PROBED:
            return Depth.UNPROBED
        is_past_sound = depth_mm > self.limits.soft_from_mm
        if depth_mm > self.limits.replace_beyond_mm or (self.is_through and is_past_sound):
            return Depth.GONE
        return Depth.SOFT if is_past_sound or self.is_through else Depth.FIRM

    @cached_property
    def lacking(self) -> tuple[str, ...]:
        """What it takes to call this sound and is not there."""
        needs_tap = self.subject is Subject.SKIN or self.evidence.kind == Kind.LOOSE_DECKING
        absent = [
            (READING, self.subject in _WOOD and not self.is_read),
            (PROBE, self.subject is not Subject.SKIN and self.depth is Depth.UNPROBED),
            (TAP, needs_tap and not self.evidence.tap_sound),
        ]
        return tuple(name for name, is_absent in absent if is_absent)

    @cached_property
    def not_noted(self) -> tuple[str, ...]:
        """What would still strengthen a verdict of sound."""
        present = [(READING, self.is_read), (TAP, self.evidence.tap_sound), (LOOK, self.evidence.look)]
        return tuple(name for name, is_present in present if not is_present)

    @cached_property
    def loose_signs(self) -> tuple[str, ...]:
        """Signs that layers of decking, panel or skin do not hold together."""
        if self.subject not in {Subject.PANEL, Subject.SKIN}:
            return ()
        tap, looks = self.evidence.tap_sound, self.evidence.look
        sounds_loose = tap in {TapSound.HOLLOW, TapSound.DULL} or (
            self.subject is Subject.SKIN and tap == TapSound.CRUNCHY
        )
        signs = [(f"It sounds {tap} under a tap.", sounds_loose), (PARTED, looks == Look.DELAMINATED)]
        return tuple(words for words, is_there in signs if is_there)

    @cached_property
    def doubts(self) -> tuple[str, ...]:
        """Signs of decay or insects that a firm face does not clear."""
        tap, looks = self.evidence.tap_sound, self.evidence.look
        signs = [
            ("It was posted as rotten.", self.evidence.kind == Kind.ROTTEN_FRAMING),
            (f"It sounds {tap} under a tap; decay inside can lie under a firm face.", tap not in {"", TapSound.SOLID}),
            ("There are insects or frass; galleries can run under a firm face.", looks == Look.INSECTS),
            (PARTED, looks == Look.DELAMINATED),
        ]
        return tuple(words for words, is_there in signs if is_there and words not in self.loose_signs)

    def moisture_reasons(self) -> Iterator[str]:
        """The reading against the limit; where reading and hand differ, that the wetter sign counts."""
        limit, moisture_pct, touch = percent(self.limit_pct), self.evidence.moisture_pct, self.evidence.is_wet
        if self.evidence.is_out_of_range_high:
            yield f"It is past the range of the meter, above the close-in limit of {limit}."
        elif moisture_pct is not None and self.reads_wet:
            yield f"It reads {_over(percent(moisture_pct), limit)}, above the close-in limit of {limit}."
        elif moisture_pct is not None:
            yield f"It reads {percent(moisture_pct)}, within the close-in limit of {limit}."
        elif self.is_wet:
            yield f"It was noted as wet, with no reading to hold against the close-in limit of {limit}."
        elif touch is False:
            yield "It is dry to the touch."
        if self.is_read and touch is not None and touch is not self.reads_wet:
            yield f"Noted as {'wet' if touch else 'dry'}, though the meter says otherwise; the wetter sign counts."

    def depth_reasons(self) -> Iterator[str]:
        """How far the awl goes in, against the limit that decides."""
        if self.evidence.probe_depth_mm is None:
            return
        if self.subject in _NEVER_PROBED:
            yield "An awl says nothing about insulation or wiring; its depth is left out."
            return
        most, keep = self._length(self.limits.soft_from_mm), self._length(self.limits.replace_beyond_mm)
        depth = self._length(self.evidence.probe_depth_mm)
        if self.evidence.probe_depth_mm > self.limits.replace_beyond_mm:
            yield f"The awl goes in {_over(depth, keep)}, beyond the shop’s limit of {keep}."
        elif self.depth is Depth.GONE:
            yield f"The awl goes right through all {_over(depth, most)} of it; sound material stops it by {most}."
        elif self.depth is Depth.FIRM:
            yield f"The awl stops at {depth}; sound material stops it by {most}."
        elif self.is_through and self.evidence.probe_depth_mm <= self.limits.soft_from_mm:
            yield f"The awl goes right through, but at {depth} it is too thin to tell: {most} can be sound."
        else:
            yield f"The awl goes in {_over(depth, most)}: more than {most}, not beyond the shop’s limit of {keep}."

    def lacking_reasons(self) -> Iterator[str]:
        """What is not known yet and why it matters."""
        if READING in self.lacking:
            yield f"There is no reading yet to hold against the close-in limit of {percent(self.limit_pct)}."
        if PROBE in self.lacking:
            yield "It was not probed yet, and early decay looks unchanged."
        if TAP in self.lacking:
            yield "It was not tapped yet, and a look does not tell whether it holds."

    def firm_reasons(self) -> Iterator[str]:
        """What else speaks for it where nothing bad was found, and what that leaves open."""
        if self.evidence.tap_sound == TapSound.SOLID:
            yield "It taps solid."
        if self.subject is Subject.SKIN and not self.is_read:
            yield "What is behind it was not read for moisture."

    def good_signs(self) -> str:
        """What speaks against a bad verdict, in one sentence, or nothing."""
        signs = [
            ("it taps solid", self.evidence.tap_sound == TapSound.SOLID),
            ("it looks clean", self.evidence.look == Look.CLEAN),
            ("the awl stops", self.depth is Depth.FIRM),
        ]
        there = " and ".join(words for words, is_there in signs if is_there)
        return f"Against that, {there}; the worse sign decides." if there else ""

    def _length(self, mm: float) -> str:
        if self.units == "metric" and mm < FINE_BELOW_MM:
            return f"{round(mm, 1):g} mm"
        return print_length(mm, units=self.units)


def percent(pct: float) -> str:
    return f"{round(pct, 1):g} %"


def _over(text: str, limit: str) -> str:
    """A value above its limit, where rounding would hide that it is."""
    return f"just over {limit}" if text == limit else text
