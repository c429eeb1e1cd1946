"""What the evidence at a place says about it: one verdict, the reasons, what is missing and what to do next.

The rules, in the order they count:
1. Gone is gone, wet or dry: the awl goes in beyond the replace limit, or through a member thicker than
   sound material lets an awl in. Everything else that is wet waits for dry, whatever it looks like. A crunchy
   tap alone proves nothing while wet.
2. Dry and soft: kept up to the replace limit, unless it crunches under a tap as well; then it is cut out.
3. Decking, panels and skin that sound hollow or dull, or whose layers part, are loose.
4. Wood is called sound only with a reading at or below the close-in limit and an awl that stops, for early
   decay looks unchanged (NAVFAC MO-312.1). Skin needs a solid tap instead; metal needs no reading.
5. Signs that contradict each other: the worse one decides, and the reasons say so.

The depths are common practice, no source; no published relation of probe depth to strength was found.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from jobs.calc.moisture.evidence import MEMBERS, STRUCTURAL, Evidence, Kind, Look, TapSound
from jobs.calc.moisture.limits import LIMITS, Limit, Limits
from jobs.calc.moisture.weighing import (
    LOOK,
    PARTED,
    PROBE,
    READING,
    TAP,
    THICKNESS,
    Case,
    Depth,
    Subject,
    close_in_limit_pct,
)

__all__ = [
    "LIMITS",
    "MEMBERS",
    "STRUCTURAL",
    "VERDICT_WORDS",
    "Evidence",
    "Judgement",
    "Limit",
    "Limits",
    "Verdict",
    "close_in_limit_pct",
    "judge",
]


class Verdict(StrEnum):
    WAIT_FOR_DRY = "wait_for_dry"
    SOUND = "sound"
    STAINED_SOUND = "stained_sound"
    SOFT = "soft"
    ROTTED = "rotted"
    LOOSE = "loose"
    EXPOSED = "exposed"
    OPEN = "open"


VERDICT_WORDS: Mapping[Verdict, str] = {
    Verdict.WAIT_FOR_DRY: "wait for dry",
    Verdict.SOUND: "sound",
    Verdict.STAINED_SOUND: "stained, sound",
    Verdict.SOFT: "soft",
    Verdict.ROTTED: "rotted",
    Verdict.LOOSE: "loose",
    Verdict.EXPOSED: "exposed",
    Verdict.OPEN: "not known yet",
}


@dataclass(frozen=True)
class Judgement:
    """A verdict, why, what is missing that matters, and what to measure or do next. Words for a technician."""

    verdict: Verdict
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    next_step: str


def judge(evidence: Evidence, limits: Limits, *, units: str) -> Judgement:
    """What the evidence says by the rules at the top of this module; lengths in the shop's units.

    Raises ValueError if units is neither "us" nor "metric". Sources: those of LIMITS; early decay looks unchanged,
    NAVFAC MO-312.1; the rest is common practice, no source.
    """
    if units not in {"us", "metric"}:
        raise ValueError(f"units must be 'us' or 'metric', got {units!r}")
    case = Case(evidence, limits, units)
    if case.subject is Subject.WIRING:
        return _judge_wiring(case)
    judgement = _judge_insulation(case) if case.subject is Subject.INSULATION else _judge_solid(case)
    return _under_failed_seal(judgement) if evidence.kind == Kind.FAILED_SEAL else judgement


_BAD = {Verdict.SOFT, Verdict.ROTTED, Verdict.LOOSE}
_ACTIONS = {READING: "take a moisture reading", PROBE: "probe it with an awl", TAP: "tap it"}
MOULDY_POROUS = "It is mouldy, and mould does not come out of what is porous."


def _judge_solid(case: Case) -> Judgement:
    """Wood, panels, skin and metal, rules 1 to 5."""
    if case.depth is Depth.GONE:
        dry_first = " Dry what stays." if case.is_wet else ""
        return _say(case, Verdict.ROTTED, f"Cut it out and replace it.{dry_first}", *case.loose_signs)
    if case.is_wet:
        return _wait(case)
    if case.depth is Depth.SOFT and case.is_dry:
        return _judge_soft(case)
    if case.loose_signs:
        step = f"{_actions(case)} Then fix or bond it again." if case.lacking else "Fix or bond it again."
        return _say(case, Verdict.LOOSE, step.strip(), *case.loose_signs, missing=case.lacking)
    if case.lacking:
        return _say(case, Verdict.OPEN, _actions(case), *case.lacking_reasons(), missing=case.lacking)
    return _judge_firm(case)


def _wait(case: Case) -> Judgement:
    again = "" if case.depth is Depth.UNPROBED else " again"
    then = "tap it again" if case.subject is Subject.SKIN else f"probe it{again}"
    later = "What is wet is judged when it is dry, whatever it looks or sounds like."
    missing = () if case.is_read else (READING,)
    return _say(case, Verdict.WAIT_FOR_DRY, f"Dry it, then {then}.", *case.loose_signs, later, missing=missing)


def _judge_soft(case: Case) -> Judgement:
    absent = [(READING, not case.is_read), (THICKNESS, case.evidence.member_thickness_mm is None)]
    missing = tuple(name for name, is_absent in absent if is_absent)
    if case.evidence.tap_sound == TapSound.CRUNCHY:
        crumbles = "It crunches under a tap as well: it crumbles further than the awl shows."
        return _say(case, Verdict.ROTTED, "Cut it out and replace it.", crumbles)
    step = "Treat and strengthen it."
    if THICKNESS in missing:
        step = "Measure how thick it is; what the awl goes right through is cut out. Else treat and strengthen it."
    return _say(case, Verdict.SOFT, step, *case.loose_signs, missing=missing)


def _judge_firm(case: Case) -> Judgement:
    if case.doubts:
        again = "Probe it again from another side. If it is firm there too, overrule this and say so."
        return _say(case, Verdict.SOFT, again, *case.doubts, missing=case.not_noted)
    marks = [*_marks(case.evidence)]
    reasons = (*case.firm_reasons(), *(words for words, _ in marks))
    if marks:
        return _say(case, Verdict.STAINED_SOUND, marks[0][1], *reasons, missing=case.not_noted)
    return _say(case, Verdict.SOUND, "It can stay as it is.", *reasons, missing=case.not_noted)


def _marks(evidence: Evidence) -> Iterator[tuple[str, str]]:
    """What shows on material that is sound, worst first, and what to do about it."""
    if evidence.kind == Kind.MOULD or evidence.look == Look.MOULD:
        yield "There is mould on it; it has to come off.", "Stop the water and take the mould off. It can stay."
    if evidence.kind == Kind.CORROSION or evidence.look == Look.CORRODED:
        yield "There is corrosion.", "Clean it, and check fasteners and brackets. It can stay."
    if evidence.kind == Kind.STAINED_FRAMING or evidence.look == Look.STAINED:
        yield "It is stained; colour is no sure sign of strength.", "Stop the water that stained it. It can stay."


def _judge_insulation(case: Case) -> Judgement:
    """Never probed. Commonly taken out to dry or replaced once wet: common practice, no source."""
    is_mouldy = case.evidence.look == Look.MOULD or case.evidence.kind == Kind.MOULD
    mouldy = (MOULDY_POROUS,) if is_mouldy else ()
    if case.is_wet:
        step = "Replace it" if is_mouldy else "Take it out to dry, or replace it"
        missing = () if case.is_read or case.evidence.is_wet is not None else (READING,)
        reasons = ("Wet insulation keeps what is around it wet; taking it out is common practice.", *mouldy)
        return _say(case, Verdict.WAIT_FOR_DRY, f"{step}; let what is behind it dry.", *reasons, missing=missing)
    if case.evidence.is_wet is None and not case.is_read:
        unknown = "Whether it is wet is not known yet."
        return _say(case, Verdict.OPEN, "Feel it, or take a reading.", unknown, *mouldy, missing=(READING,))
    if mouldy:
        return _say(case, Verdict.ROTTED, "Take it out and replace it.", *mouldy)
    return _dry_insulation(case)


def _dry_insulation(case: Case) -> Judgement:
    match case.evidence.look:
        case Look.CLEAN:
            return _say(case, Verdict.SOUND, "It can stay as it is.")
        case Look.STAINED:
            return _say(case, Verdict.STAINED_SOUND, "Stop the water that stained it. It can stay.", "It is stained.")
        case Look.DELAMINATED:
            return _say(case, Verdict.LOOSE, "Bond it again or replace it.", PARTED)
        case "":
            return _say(case, Verdict.OPEN, "Note how it looks.", "How it looks was not noted.", missing=(LOOK,))
    behind = "Insects or corrosion in insulation come from what is behind it."
    return _say(case, Verdict.OPEN, "Take it out and look behind it.", behind, missing=("a look behind it",))


def _judge_wiring(case: Case) -> Judgement:
    """A wire is made safe, never called sound here; the cautions name who may."""
    off = "Keep every source of power off until it is made safe."
    is_corroded = case.evidence.kind == Kind.CORROSION or case.evidence.look == Look.CORRODED
    if case.evidence.kind == Kind.EXPOSED_WIRE or is_corroded:
        words = "The wire is corroded." if is_corroded else "The wire is exposed."
        return _say(case, Verdict.EXPOSED, off + (" Dry it." if case.is_wet else ""), words)
    if case.is_wet:
        return _say(case, Verdict.WAIT_FOR_DRY, f"{off} Dry it, then have it tested.", "There is water at the wire.")
    untested = "The wire was not tested; a look does not tell whether it is safe."
    return _say(case, Verdict.OPEN, "Have it tested by someone qualified.", untested, missing=("an electrical test",))


def _under_failed_seal(judgement: Judgement) -> Judgement:
    """An open edge: what is under it decides where that is wet, soft or rotted; else the edge is the finding."""
    reasons = ("The seal has failed; the edge is open to water.", *judgement.reasons)
    if judgement.verdict in {Verdict.WAIT_FOR_DRY, Verdict.SOFT, Verdict.ROTTED}:
        return replace(judgement, reasons=reasons, next_step=f"Cover the open edge. {judgement.next_step}")
    is_settled = judgement.verdict in {Verdict.SOUND, Verdict.STAINED_SOUND}
    step = "Seal it again." if is_settled else f"{judgement.next_step} Then seal it again."
    return replace(judgement, verdict=Verdict.EXPOSED, reasons=reasons, next_step=f"Cover the open edge. {step}")


def _actions(case: Case) -> str:
    return " and ".join(_ACTIONS[name] for name in case.lacking).capitalize() + "."


def _say(case: Case, verdict: Verdict, next_step: str, *more: str, missing: tuple[str, ...] = ()) -> Judgement:
    """The judgement, with what was measured before what was concluded."""
    reasons = [*case.moisture_reasons(), *case.depth_reasons(), *more]
    if verdict in _BAD and (against := case.good_signs()):
        reasons.append(against)
    return Judgement(verdict, tuple(reasons), missing, next_step)
