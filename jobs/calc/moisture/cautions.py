"""What stands beside dangerous work at a finding, for the technician.

Labels, local codes and licensed trades come before anything here.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from jobs.calc.faces import Face
from jobs.calc.moisture.evidence import MEMBER_KEYS, STRUCTURAL, Kind, Look, check_word
from jobs.calc.moisture.verdict import Verdict

# EPA-402-K-01-001 Table 2 parts small, medium and large at 10 and 100 sq ft. 1 ft = 0.3048 m exactly.
M2_PER_SQ_FT = 0.3048**2
SMALL_BELOW_SQ_FT = 10.0
LARGE_ABOVE_SQ_FT = 100.0

EPA = "EPA 402-K-01-001 (Sept 2008)"
EPA_RESTATED = f"{EPA}, as restated at where2conf.com"


@dataclass(frozen=True)
class EvidenceCaution:
    """A caution: key for looking it up, words for a technician, where it comes from."""

    key: str
    words: str
    source: str


MOULD_SMALL = EvidenceCaution(
    "mould_small",
    "Mould under 10 sq ft: wear at least an N-95 respirator, gloves and goggles.",
    f"{EPA} Table 2, PPE in ch. 3",
)
MOULD_MEDIUM = EvidenceCaution(
    "mould_medium",
    "Mould of 10 to 100 sq ft: wear gloves, goggles, disposable overalls and an N-95 or half-face HEPA respirator. "
    "Close the area off with one layer of poly, block its vents, and draw air out through a HEPA fan.",
    EPA_RESTATED,
)
MOULD_LARGE = EvidenceCaution(
    "mould_large",
    "Mould over 100 sq ft: wear a full-face HEPA respirator, gloves, disposable full-body clothing, head gear and "
    "foot covers. Close the area off with two layers of fire-retardant poly and an airlock, and draw air out through "
    "a HEPA fan.",
    EPA_RESTATED,
)
MOULD_ALWAYS = EvidenceCaution(
    "mould_always",
    "Stop the water first. Do not touch mould bare-handed, breathe it or get it in your eyes. "
    "Where it may have spread further, take the next size up.",
    f"{EPA} ch. 3; sizes guide the method and are not health limits (ch. 5)",
)
MOULD_BIOCIDE = EvidenceCaution(
    "mould_biocide",
    "Never mix bleach and ammonia: the fumes are toxic. Killing mould is not enough, it has to come off. "
    "Use a biocide only as its label says, with the air moving outdoors.",
    "EPA text quoted at howtolookatahouse.com 2018-10-17; EPA 402-K-02-003; FIFRA, quoted at "
    "futureenv.blogspot.com 2013-08-19",
)
INSECTS = EvidenceCaution(
    "insects",
    "Insects or frass: call licensed pest control before you treat or close anything. "
    "Use an insecticide only as its label says.",
    "common practice, no source; labels: FIFRA, from memory for insecticides",
)
STRUCTURE = EvidenceCaution(
    "structure",
    "This may carry load. Support it before you cut, and ask an engineer where you are not sure what it carries. "
    "Keep people off a roof or floor that is soft.",
    "common practice, no source",
)
HIDDEN_STRUCTURE = EvidenceCaution(
    "structure_hidden",
    "It is not known yet how strong this is. Early decay looks unchanged: do not trust it with weight.",
    "NAVFAC MO-312.1 on early decay; the rest common practice, no source",
)
MAINS = EvidenceCaution(
    "mains",
    "Mains wiring is near. Unplug shore power, stop the generator and test dead. A coach has more than one source: "
    "isolate inverter, batteries and solar too. Wiring is for a licensed electrician and local code.",
    "shore power, test dead: university.govur.com flashcard (secondary); more than one source, trades: from memory",
)
WIRE = EvidenceCaution(
    "wire",
    "Treat an exposed wire as live until every source is off and it tests dead. If you cannot tell what feeds it, "
    "stop and call a licensed electrician.",
    "test dead: university.govur.com flashcard (secondary); the rest from memory",
)
GAS = EvidenceCaution(
    "gas",
    "A gas line is near. Close the tank valve by hand, with no wrench. LP gas is heavier than air and collects low: "
    "no flame, spark or hot air there. Lines are for a licensed gas fitter and local code.",
    "closed by hand: crookston.mn.us LP Safety page; heavier than air, trades: from memory",
)
HEIGHTS = EvidenceCaution(
    "heights",
    "Roof work in a bay: use fall protection where it is feasible. Check the local rules.",
    "derived from the OSHA memo of 1996-10-18, quoted at safety-tidbits.blogspot.com 2018-03; check the state plan",
)
DRYING_HEAT = EvidenceCaution(
    "drying_heat",
    "A fuel-fired heater gives off carbon monoxide: let fresh air in and watch a carbon monoxide alarm.",
    "candrmagazine.com/dehumidification-capacity-in-structural-drying (S500 commentary)",
)
_STRUCTURAL_KINDS = {Kind.STAINED_FRAMING, Kind.ROTTEN_FRAMING, Kind.LOOSE_DECKING}
_NEVER_STRUCTURAL_KINDS = {Kind.WET_INSULATION, Kind.EXPOSED_WIRE}


def cautions_for(
    *,
    kind: str,
    member: str,
    look: str,
    verdict: str,
    area_m2: float,
    is_near_mains: bool,
    is_near_gas: bool,
    face: str,
) -> tuple[EvidenceCaution, ...]:
    """The cautions for work at a finding, what harms soonest first.

    kind, member, look, verdict, face: values of Kind, MEMBERS, Look, Verdict, Face; member and look may be "".
    area_m2: size of the place, above 0 [m2]; it stands for the size of the mould there, which may reach further.
    Raises ValueError if any of them is not so. Source: on each caution.
    """
    check_word("kind", kind, {*Kind})
    check_word("look", look, {"", *Look})
    check_word("verdict", verdict, {*Verdict})
    check_word("face", face, {*Face})
    check_word("member", member, {"", *MEMBER_KEYS})
    if not 0 < area_m2 < float("inf"):
        raise ValueError(f"area_m2 must be above 0, got {area_m2!r}")
    is_mouldy = kind == Kind.MOULD or look == Look.MOULD
    return (
        *_energy(kind, member, is_near_mains=is_near_mains, is_near_gas=is_near_gas),
        *((HEIGHTS,) if face == Face.ROOF else ()),
        *_structure(kind, member, verdict),
        *(_mould(area_m2) if is_mouldy else ()),
        *((INSECTS,) if look == Look.INSECTS else ()),
        *((DRYING_HEAT,) if verdict == Verdict.WAIT_FOR_DRY else ()),
    )


def _energy(kind: str, member: str, *, is_near_mains: bool, is_near_gas: bool) -> Iterator[EvidenceCaution]:
    if kind == Kind.EXPOSED_WIRE or member == "wiring":
        yield WIRE
    if is_near_mains:
        yield MAINS
    if is_near_gas:
        yield GAS


def _structure(kind: str, member: str, verdict: str) -> Iterator[EvidenceCaution]:
    """Framing and decking may carry load; what is not named may as well once it gives way."""
    is_named = member in STRUCTURAL or kind in _STRUCTURAL_KINDS
    is_unnamed = member in {"", "other"} and kind not in _NEVER_STRUCTURAL_KINDS
    gives_way = {Verdict.SOFT, Verdict.ROTTED, Verdict.LOOSE} if is_named else {Verdict.SOFT, Verdict.ROTTED}
    if verdict in gives_way and (is_named or is_unnamed):
        yield STRUCTURE
    elif verdict in {Verdict.OPEN, Verdict.WAIT_FOR_DRY} and is_named:
        yield HIDDEN_STRUCTURE


def _mould(area_m2: float) -> Iterator[EvidenceCaution]:
    """By EPA size bands; 10 and 100 sq ft themselves are medium."""
    # Sizes typed in feet and stored in mm differ in the last digits.
    area_sq_ft = round(area_m2 / M2_PER_SQ_FT, 6)
    if area_sq_ft < SMALL_BELOW_SQ_FT:
        yield MOULD_SMALL
    elif area_sq_ft <= LARGE_ABOVE_SQ_FT:
        yield MOULD_MEDIUM
    else:
        yield MOULD_LARGE
    yield MOULD_ALWAYS
    yield MOULD_BIOCIDE
