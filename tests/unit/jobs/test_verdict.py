"""The verdict that the evidence at a place gives."""

import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.moisture.evidence import Kind, Look, TapSound
from jobs.calc.moisture.verdict import (
    LIMITS,
    MEMBERS,
    STRUCTURAL,
    VERDICT_WORDS,
    Evidence,
    Limits,
    Verdict,
    close_in_limit_pct,
    judge,
)
from jobs.models.finding import Finding, FindingKind

MEMBER_KEYS = [key for key, _ in MEMBERS]
SHOP = Limits()
EIGHTH_IN_MM, THREE_EIGHTHS_IN_MM = 3.175, 9.525
DRY_STUD = Evidence(
    "stained_framing", member="wall_framing", moisture_pct=14, probe_depth_mm=1, tap_sound="solid", look="stained"
)
DRY_DECK = replace(DRY_STUD, kind="loose_decking", member="roof_decking", look="clean")
ORDER = [Verdict.SOUND, Verdict.STAINED_SOUND, Verdict.SOFT, Verdict.ROTTED]
WOOD_KINDS = ["stained_framing", "rotten_framing", "loose_decking"]


def verdict(evidence, **changes):
    return judge(replace(evidence, **changes), SHOP, units="us").verdict


def reasons(evidence, *, units="us", limits=SHOP):
    return " ".join(judge(evidence, limits, units=units).reasons)


@pytest.mark.parametrize(
    ("case", "changes", "expected"),
    [
        ("dry, firm and stained", {}, "stained_sound"),
        ("dry, firm, clean, and a mere 'other'", {"kind": "other", "look": "clean"}, "sound"),
        ("posted as stained and clean by now", {"look": "clean"}, "stained_sound"),
        ("mouldy over a firm face", {"kind": "mould", "look": "mould"}, "stained_sound"),
        ("corroded fasteners in firm wood", {"kind": "other", "look": "corroded"}, "stained_sound"),
        ("wet", {"moisture_pct": 24}, "wait_for_dry"),
        ("wet to the touch though it reads dry", {"is_wet": True}, "wait_for_dry"),
        ("past the range of the meter", {"moisture_pct": None, "is_out_of_range_high": True}, "wait_for_dry"),
        ("wet and soft", {"moisture_pct": 24, "probe_depth_mm": 6}, "wait_for_dry"),
        ("wet, soft and crunchy", {"moisture_pct": 24, "probe_depth_mm": 6, "tap_sound": "crunchy"}, "wait_for_dry"),
        ("wet and gone", {"moisture_pct": 24, "probe_depth_mm": 12}, "rotted"),
        ("at the close-in limit", {"moisture_pct": 19.0}, "stained_sound"),
        ("just over the close-in limit", {"moisture_pct": 19.01}, "wait_for_dry"),
        ("an eighth of an inch in", {"probe_depth_mm": EIGHTH_IN_MM}, "stained_sound"),
        ("more than an eighth of an inch in", {"probe_depth_mm": EIGHTH_IN_MM + 0.01}, "soft"),
        ("three eighths of an inch in", {"probe_depth_mm": THREE_EIGHTHS_IN_MM}, "soft"),
        ("more than three eighths in", {"probe_depth_mm": THREE_EIGHTHS_IN_MM + 0.01}, "rotted"),
        ("soft and crunchy", {"probe_depth_mm": 6, "tap_sound": "crunchy"}, "rotted"),
        ("firm but crunchy", {"tap_sound": "crunchy"}, "soft"),
        ("firm but hollow", {"tap_sound": "hollow"}, "soft"),
        ("firm but dull", {"tap_sound": "dull"}, "soft"),
        ("firm but with frass", {"look": "insects"}, "soft"),
        ("firm but its layers part", {"look": "delaminated"}, "soft"),
        ("firm but posted as rotten", {"kind": "rotten_framing"}, "soft"),
        ("through a thin member", {"probe_depth_mm": 6, "member_thickness_mm": 6}, "rotted"),
        ("through a thin wet member", {"probe_depth_mm": 6, "member_thickness_mm": 6, "is_wet": True}, "rotted"),
        ("through what sound wood would not stop", {"probe_depth_mm": 2.7, "member_thickness_mm": 2.7}, "soft"),
        ("not read", {"moisture_pct": None}, "open"),
        ("dry to the touch, not read", {"moisture_pct": None, "is_wet": False}, "open"),
        ("soft, not read", {"moisture_pct": None, "probe_depth_mm": 6}, "open"),
        ("gone, not read", {"moisture_pct": None, "probe_depth_mm": 12}, "rotted"),
        ("not probed", {"probe_depth_mm": None}, "open"),
        ("not tapped", {"tap_sound": ""}, "stained_sound"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_stud_is_judged_by_reading_awl_tap_and_look(case, changes, expected):
    assert verdict(DRY_STUD, **changes) == expected


@pytest.mark.parametrize(
    ("case", "changes", "expected"),
    [
        ("solid, clean, firm and dry", {}, "sound"),
        ("hollow", {"tap_sound": "hollow"}, "loose"),
        ("dull", {"tap_sound": "dull"}, "loose"),
        ("its layers part", {"look": "delaminated"}, "loose"),
        ("hollow, nothing measured", {"tap_sound": "hollow", "moisture_pct": None, "probe_depth_mm": None}, "loose"),
        ("hollow and wet", {"tap_sound": "hollow", "moisture_pct": 22}, "wait_for_dry"),
        ("hollow and soft", {"tap_sound": "hollow", "probe_depth_mm": 6}, "soft"),
        ("hollow and gone", {"tap_sound": "hollow", "probe_depth_mm": 12}, "rotted"),
        ("solid, not probed", {"probe_depth_mm": None}, "open"),
        ("not tapped", {"tap_sound": ""}, "open"),
        ("at the panel limit", {"moisture_pct": 16}, "sound"),
        ("over the panel limit, within that of framing", {"moisture_pct": 17}, "wait_for_dry"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_decking_is_loose_by_tap_or_look_and_judged_as_wood_besides(case, changes, expected):
    assert verdict(DRY_DECK, **changes) == expected


@pytest.mark.parametrize(
    ("evidence", "expected"),
    [
        (Evidence("loose_skin", tap_sound="hollow"), "loose"),
        (Evidence("loose_skin", tap_sound="dull"), "loose"),
        (Evidence("loose_skin", tap_sound="crunchy"), "loose"),
        (Evidence("loose_skin", look="delaminated"), "loose"),
        (Evidence("loose_skin", tap_sound="solid", look="clean"), "sound"),
        (Evidence("loose_skin", tap_sound="solid", look="stained"), "stained_sound"),
        (Evidence("loose_skin", look="clean"), "open"),
        (Evidence("loose_skin", tap_sound="hollow", is_wet=True), "wait_for_dry"),
        (Evidence("loose_skin", tap_sound="solid", look="clean", probe_depth_mm=20), "rotted"),
        (Evidence("exposed_wire"), "exposed"),
        (Evidence("exposed_wire", is_wet=True, look="clean"), "exposed"),
        (Evidence("corrosion", member="wiring"), "exposed"),
        (Evidence("other", member="wiring"), "open"),
        (Evidence("other", member="wiring", is_wet=True), "wait_for_dry"),
        (Evidence("failed_seal"), "exposed"),
        (replace(DRY_STUD, kind="failed_seal"), "exposed"),
        (replace(DRY_STUD, kind="failed_seal", moisture_pct=25), "wait_for_dry"),
        (replace(DRY_STUD, kind="failed_seal", probe_depth_mm=6), "soft"),
        (replace(DRY_STUD, kind="failed_seal", probe_depth_mm=20), "rotted"),
        (Evidence("wet_insulation"), "wait_for_dry"),
        (Evidence("wet_insulation", is_wet=True, probe_depth_mm=40), "wait_for_dry"),
        (Evidence("wet_insulation", is_wet=False, look="clean"), "sound"),
        (Evidence("wet_insulation", is_wet=False, look="stained"), "stained_sound"),
        (Evidence("wet_insulation", is_wet=False, look="delaminated"), "loose"),
        (Evidence("wet_insulation", is_wet=False, look="mould"), "rotted"),
        (Evidence("wet_insulation", is_wet=False, look="insects"), "open"),
        (Evidence("wet_insulation", is_wet=False), "open"),
        (Evidence("mould", member="insulation"), "open"),
        (Evidence("corrosion", probe_depth_mm=1, tap_sound="solid"), "stained_sound"),
        (Evidence("corrosion", look="corroded"), "open"),
        (Evidence("corrosion", is_wet=True, probe_depth_mm=1), "wait_for_dry"),
        (Evidence("corrosion", probe_depth_mm=2, member_thickness_mm=2), "soft"),
        (Evidence("corrosion", probe_depth_mm=1, tap_sound="crunchy"), "soft"),
        (Evidence("mould", look="mould"), "open"),
        (Evidence("other"), "open"),
    ],
    ids=repr,
)
def test_other_things_have_their_own_short_rules(evidence, expected):
    assert judge(evidence, SHOP, units="us").verdict == expected


def test_a_deep_probe_outweighs_a_clean_look_and_a_solid_tap_and_says_so():
    text = reasons(replace(DRY_STUD, probe_depth_mm=25.4, look="clean"))

    assert 'The awl goes in 1", beyond the shop’s limit of 3/8".' in text
    assert "it taps solid and it looks clean; the worse sign decides" in text


@pytest.mark.parametrize("kind", ["wet_insulation", "exposed_wire"])
def test_insulation_and_wiring_are_not_probed_and_a_depth_noted_there_is_left_out(kind):
    probed = Evidence(kind, probe_depth_mm=40, is_wet=True)

    assert verdict(probed) == verdict(probed, probe_depth_mm=None)
    assert "its depth is left out" in reasons(probed)
    assert "the awl stops" not in reasons(replace(probed, is_wet=False, look="mould", probe_depth_mm=1))


def test_reading_and_hand_that_differ_are_named():
    assert "Noted as wet, though the meter says otherwise" in reasons(replace(DRY_STUD, is_wet=True))
    assert "Noted as dry, though the meter says otherwise" in reasons(replace(DRY_STUD, moisture_pct=30, is_wet=False))
    assert "Noted as" not in reasons(replace(DRY_STUD, is_wet=False))


def test_an_open_verdict_names_what_is_missing_and_how_to_get_it():
    judgement = judge(Evidence("stained_framing", look="clean"), SHOP, units="us")

    assert judgement.missing == ("a moisture reading", "a probe with an awl")
    assert judgement.next_step == "Take a moisture reading and probe it with an awl."
    assert "early decay looks unchanged" in " ".join(judgement.reasons)


def test_soft_wood_of_unknown_thickness_asks_for_it_because_the_awl_may_have_gone_through():
    unknown = judge(replace(DRY_STUD, probe_depth_mm=6), SHOP, units="us")
    known = judge(replace(DRY_STUD, probe_depth_mm=6, member_thickness_mm=38), SHOP, units="us")

    assert unknown.missing == ("how thick the member is",)
    assert unknown.next_step.startswith("Measure how thick it is")
    assert known.missing == ()


@pytest.mark.parametrize(
    ("evidence", "next_step"),
    [
        (replace(DRY_STUD, moisture_pct=25), "Dry it, then probe it again."),
        (replace(DRY_STUD, moisture_pct=25, probe_depth_mm=None), "Dry it, then probe it."),
        (replace(DRY_STUD, probe_depth_mm=6, member_thickness_mm=38), "Treat and strengthen it."),
        (replace(DRY_STUD, probe_depth_mm=20), "Cut it out and replace it."),
        (replace(DRY_STUD, probe_depth_mm=20, moisture_pct=25), "Cut it out and replace it. Dry what stays."),
        (replace(DRY_DECK, tap_sound="hollow"), "Fix or bond it again."),
        (Evidence("loose_skin", is_wet=True), "Dry it, then tap it again."),
        (Evidence("failed_seal", is_wet=True), "Cover the open edge. Dry it, then probe it."),
        (Evidence("exposed_wire"), "Keep every source of power off until it is made safe."),
    ],
    ids=repr,
)
def test_the_next_step_says_what_to_do(evidence, next_step):
    assert judge(evidence, SHOP, units="us").next_step == next_step


def test_lengths_come_in_the_units_of_the_shop():
    soft = replace(DRY_STUD, probe_depth_mm=6.35)

    assert 'The awl goes in 1/4": more than 1/8", not beyond the shop’s limit of 3/8".' in reasons(soft, units="us")
    assert "The awl goes in 6.3 mm: more than 3.2 mm, not beyond the shop’s limit of 9.5 mm." in reasons(
        soft, units="metric"
    )


def test_what_rounding_would_hide_is_called_just_over():
    assert 'just over 3/8", beyond the shop’s limit of 3/8"' in reasons(replace(DRY_STUD, probe_depth_mm=9.6))
    assert "just over 19 %, above the close-in limit of 19 %" in reasons(replace(DRY_STUD, moisture_pct=19.01))


def test_a_shop_with_its_own_limits_is_judged_and_told_by_them():
    strict = Limits(close_in_pct=13, replace_beyond_mm=5)
    wet, gone = replace(DRY_STUD), replace(DRY_STUD, probe_depth_mm=6)

    assert judge(wet, strict, units="metric").verdict == Verdict.WAIT_FOR_DRY
    assert "limit of 13 %" in reasons(wet, limits=strict)
    assert judge(gone, strict, units="metric").verdict == Verdict.ROTTED
    assert "limit of 5 mm" in reasons(gone, limits=strict, units="metric")


def test_panels_have_their_own_close_in_limit_and_the_rest_that_of_framing():
    assert close_in_limit_pct(Evidence("stained_framing", member="floor_decking"), SHOP) == 16
    assert close_in_limit_pct(Evidence("loose_decking"), SHOP) == 16
    assert close_in_limit_pct(Evidence("stained_framing", member="sill"), SHOP) == 19
    assert close_in_limit_pct(Evidence("mould"), SHOP) == 19


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("kind", "leak"),
        ("member", "wall"),
        ("tap_sound", "loud"),
        ("look", "bad"),
        ("moisture_pct", -0.1),
        ("moisture_pct", 200.1),
        ("moisture_pct", float("nan")),
        ("probe_depth_mm", -0.1),
        ("probe_depth_mm", float("nan")),
        ("probe_depth_mm", float("inf")),
        ("member_thickness_mm", 0),
        ("member_thickness_mm", float("nan")),
    ],
)
def test_evidence_that_makes_no_sense_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=f"{name} must be") as refusal:
        Evidence(**{"kind": "other", name: value})

    assert repr(value) in str(refusal.value)


def test_a_probe_deeper_than_the_member_is_refused():
    with pytest.raises(ValueError, match=r"probe_depth_mm must be at most member_thickness_mm \(12\), got 13"):
        Evidence("other", member_thickness_mm=12, probe_depth_mm=13)


def test_unknown_units_are_refused():
    with pytest.raises(ValueError, match="units must be 'us' or 'metric', got 'stone'"):
        judge(DRY_STUD, SHOP, units="stone")


@pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.key)
def test_a_limit_outside_its_range_is_refused(limit):
    for value in [limit.lowest - 0.01, limit.highest + 0.01, float("nan")]:
        with pytest.raises(ValueError, match=f"{limit.key} must be"):
            Limits(**{limit.key: value})


def test_sound_wood_cannot_let_an_awl_in_as_far_as_the_limit_for_cutting_out():
    with pytest.raises(ValueError, match=r"soft_from_mm must be below replace_beyond_mm \(4\), got 4"):
        Limits(soft_from_mm=4, replace_beyond_mm=4)


def test_words_and_values_are_those_that_a_finding_keeps():
    assert {*Kind} == {*FindingKind.values}
    assert {*TapSound} == {*Finding.TapSound.values}
    assert {*Look} == {*Finding.Look.values}
    assert {*VERDICT_WORDS} == {*Verdict}
    assert {*MEMBER_KEYS} >= STRUCTURAL
    assert [limit.key for limit in LIMITS] == [*vars(SHOP)]
    assert [limit.default for limit in LIMITS] == [*vars(SHOP).values()]


DEPTHS_MM = [0.0, 1.0, EIGHTH_IN_MM, 3.2, 6.0, THREE_EIGHTHS_IN_MM, 9.6, 40.0]


@st.composite
def evidences(draw, **fixed):
    thickness_mm = draw(st.none() | st.floats(1, 100))
    depth_mm = draw(st.none() | st.sampled_from(DEPTHS_MM) | st.floats(0, 60))
    if thickness_mm is not None and depth_mm is not None:
        depth_mm = min(depth_mm, thickness_mm)
    values = {
        "kind": draw(st.sampled_from([*Kind])),
        "member": draw(st.sampled_from(["", *MEMBER_KEYS])),
        "member_thickness_mm": thickness_mm,
        "moisture_pct": draw(st.none() | st.floats(0, 200) | st.sampled_from([14.0, 16.0, 19.0])),
        "is_out_of_range_high": draw(st.booleans()),
        "is_wet": draw(st.sampled_from([None, False, True])),
        "probe_depth_mm": depth_mm,
        "tap_sound": draw(st.sampled_from(["", *TapSound])),
        "look": draw(st.sampled_from(["", *Look])),
    }
    return Evidence(**values | fixed)


def is_wet(evidence):
    reads_wet = (evidence.moisture_pct or 0) > close_in_limit_pct(evidence, SHOP)
    return evidence.is_wet is True or evidence.is_out_of_range_high or reads_wet


@given(evidence=evidences())
def test_what_is_wet_is_never_called_sound(evidence):
    found = verdict(evidence)

    assert not is_wet(evidence) or found not in {Verdict.SOUND, Verdict.STAINED_SOUND}


@given(evidence=evidences(is_out_of_range_high=True), kind=st.sampled_from(WOOD_KINDS))
def test_wet_wood_waits_unless_the_awl_shows_it_gone(evidence, kind):
    wet = replace(evidence, kind=kind)
    depth_mm, thickness_mm = wet.probe_depth_mm or 0, wet.member_thickness_mm or float("inf")
    is_gone = depth_mm > THREE_EIGHTHS_IN_MM or depth_mm >= thickness_mm > EIGHTH_IN_MM

    assert verdict(wet) == (Verdict.ROTTED if is_gone else Verdict.WAIT_FOR_DRY)


@given(
    evidence=evidences(member_thickness_mm=None, probe_depth_mm=None),
    thickness_mm=st.none() | st.floats(1, 60),
    depths_mm=st.tuples(st.floats(0, 60), st.floats(0, 60)).map(sorted),
)
def test_no_verdict_gets_better_as_the_awl_goes_deeper(evidence, thickness_mm, depths_mm):
    at_most = thickness_mm if thickness_mm is not None else 60
    shallow, deep = (
        verdict(evidence, member_thickness_mm=thickness_mm, probe_depth_mm=min(depth_mm, at_most))
        for depth_mm in depths_mm
    )

    if shallow in ORDER and deep in ORDER:
        assert ORDER.index(shallow) <= ORDER.index(deep)
    assert shallow != Verdict.ROTTED or deep == Verdict.ROTTED
    assert deep not in {Verdict.SOUND, Verdict.STAINED_SOUND} or shallow == deep


@given(evidence=evidences(), kind=st.sampled_from(WOOD_KINDS))
def test_wood_is_never_called_sound_without_reading_and_awl(evidence, kind):
    wood = replace(evidence, kind=kind)
    found = verdict(wood)

    is_measured = wood.moisture_pct is not None and wood.probe_depth_mm is not None
    assert is_measured or found not in {Verdict.SOUND, Verdict.STAINED_SOUND}


@given(evidence=evidences(probe_depth_mm=None, is_out_of_range_high=False), more_pct=st.floats(0, 200))
def test_moisture_alone_never_rots_anything(evidence, more_pct):
    wood = replace(evidence, kind="stained_framing", moisture_pct=more_pct)

    assert verdict(wood) not in {Verdict.SOUND, Verdict.ROTTED}


@given(evidence=evidences())
def test_the_reasons_hold_the_limit_that_decided(evidence):
    judgement = judge(evidence, SHOP, units="us")
    text = " ".join(judgement.reasons)

    if evidence.moisture_pct is not None or evidence.is_wet or evidence.is_out_of_range_high:
        assert f"limit of {close_in_limit_pct(evidence, SHOP):g} %" in text
    if "The awl" in text:
        assert '1/8"' in text or '3/8"' in text
    if judgement.verdict == Verdict.ROTTED and "mouldy" not in text:
        assert "The awl" in text


def test_every_combination_gives_a_verdict_with_reasons_and_a_next_step():
    probed = [(None, None), (None, 1.0), (None, 6.0), (None, 12.0), (5.0, 5.0)]
    wetness = [(None, None), (None, False), (None, True), (12.0, None), (12.0, True), (40.0, None)]
    seen = set()
    for kind, member, tap_sound, look, (thickness_mm, depth_mm), (moisture_pct, touch) in itertools.product(
        Kind, ["", *MEMBER_KEYS], ["", *TapSound], ["", *Look], probed, wetness
    ):
        evidence = Evidence(kind, member, thickness_mm, moisture_pct, False, touch, depth_mm, tap_sound, look)

        judgement = judge(evidence, SHOP, units="us")

        seen.add(judgement.verdict)
        assert judgement.reasons
        assert all(reason.endswith(".") for reason in judgement.reasons)
        assert len(set(judgement.reasons)) == len(judgement.reasons)
        assert judgement.next_step.endswith(".")
        assert judgement.verdict != Verdict.OPEN or judgement.missing
    assert seen == {*Verdict}
