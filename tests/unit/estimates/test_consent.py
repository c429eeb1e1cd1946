"""When the owner must be asked again."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.consent import (
    BASES,
    COMBINES,
    STRICTEST,
    Agreed,
    ConsentRule,
    GoAheadLimit,
    needs_consent,
)

D = Decimal
WORK = ["Roof seam", "Front wall", "Floor by the door", "Gas line"]
DAY = date(2026, 3, 12)
usd = st.integers(0, 5_000_00).map(lambda cents: D(cents) / 100)
AGREED = Agreed(
    D("1500.00"),
    D("1400.00"),
    frozenset({"Roof seam", "Floor by the door"}),
    {"Roof seam": "seal", "Floor by the door": "replace"},
    DAY,
)


@st.composite
def scopes(draw):
    items = draw(st.frozensets(st.sampled_from(WORK)))
    pretax = draw(usd)
    return Agreed(
        total_usd=pretax + draw(usd) / 10 // D("0.01") * D("0.01"),
        pretax_usd=pretax,
        items=items,
        methods={item: draw(st.sampled_from(["seal", "replace"])) for item in sorted(items)},
        ready_on=DAY + timedelta(days=draw(st.integers(0, 20))),
        safety_items=draw(st.frozensets(st.sampled_from(sorted(items)))) if items else frozenset(),
    )


rules = st.builds(
    ConsentRule,
    combine=st.sampled_from(COMBINES),
    pct=st.integers(0, 10000).map(lambda points: D(points) / 100),
    dollar_usd=usd,
    cap_usd=st.none() | usd,
    base=st.sampled_from(BASES),
    is_later_date_counted=st.booleans(),
    is_changed_method_counted=st.booleans(),
    is_new_item_counted=st.booleans(),
)
limits = st.builds(
    GoAheadLimit,
    usd_left=usd,
    days_left=st.integers(0, 20),
    is_for_methods=st.booleans(),
    is_for_safety=st.booleans(),
)


@given(scopes(), scopes(), rules, st.none() | limits, usd, usd)
def test_a_higher_price_never_needs_less_consent(agreed, proposed, rule, limit, more, more_tax):
    dearer = replace(proposed, total_usd=proposed.total_usd + more + more_tax, pretax_usd=proposed.pretax_usd + more)

    if needs_consent(agreed, proposed, rule, limit).is_needed:
        assert needs_consent(agreed, dearer, rule, limit).is_needed


@given(scopes(), scopes(), rules, st.none() | limits, st.integers(1, 30))
def test_a_later_date_never_needs_less_consent(agreed, proposed, rule, limit, days):
    later = replace(proposed, ready_on=proposed.ready_on + timedelta(days=days))

    if needs_consent(agreed, proposed, rule, limit).is_needed:
        assert needs_consent(agreed, later, rule, limit).is_needed


@given(scopes(), scopes(), rules, st.none() | limits)
def test_the_strictest_rule_asks_whenever_any_other_does(agreed, proposed, rule, limit):
    if needs_consent(agreed, proposed, rule, limit).is_needed:
        assert needs_consent(agreed, proposed, STRICTEST, limit).is_needed


@given(scopes(), scopes(), rules, limits)
def test_a_go_ahead_limit_never_makes_a_question_and_hides_nothing(agreed, proposed, rule, limit):
    without = needs_consent(agreed, proposed, rule)

    answer = needs_consent(agreed, proposed, rule, limit)

    assert answer.is_needed <= without.is_needed
    if without.is_needed and not answer.is_needed:
        assert answer.reported == without.reasons
        assert proposed.total_usd - agreed.total_usd <= limit.usd_left
        assert (proposed.ready_on - agreed.ready_on).days <= limit.days_left
    elif answer.is_needed:
        assert answer.reasons[: len(without.reasons)] == without.reasons


@given(scopes(), scopes(), rules, limits, usd, st.integers(0, 10))
def test_a_larger_go_ahead_limit_never_asks_more(agreed, proposed, rule, limit, money, days):
    larger = replace(limit, usd_left=limit.usd_left + money, days_left=limit.days_left + days)

    if needs_consent(agreed, proposed, rule, larger).is_needed:
        assert needs_consent(agreed, proposed, rule, limit).is_needed


@given(scopes(), rules, st.none() | limits)
def test_no_change_needs_no_question(scope, rule, limit):
    assert not needs_consent(scope, scope, rule, limit).is_needed


@given(rules, usd)
def test_the_allowance_is_whole_cents_and_decides_as_the_exact_one_does(rule, agreed):
    exact = {
        "any_excess": D(0),
        "percent": agreed * rule.pct / 100,
        "dollar": rule.dollar_usd,
        "greater": max(agreed * rule.pct / 100, rule.dollar_usd),
        "lesser": min(agreed * rule.pct / 100, rule.dollar_usd),
    }[rule.combine]
    exact = exact if rule.cap_usd is None else min(exact, rule.cap_usd)

    allowed = rule.allowance_usd(agreed)

    assert allowed <= exact < allowed + D("0.01")


def test_by_default_every_cent_item_method_and_later_day_is_asked_with_its_figures():
    proposed = Agreed(
        D("1550.01"),
        D("1450.01"),
        frozenset({"Roof seam", "Front wall"}),
        {"Roof seam": "replace"},
        DAY + timedelta(days=3),
    )

    answer = needs_consent(AGREED, proposed)

    assert answer.is_needed
    assert answer.reasons == (
        "The price with tax rises by $50.01, from $1,500.00 to $1,550.01; nothing may be added without asking.",
        "The price before tax rises by $50.01, from $1,400.00 to $1,450.01; nothing may be added without asking.",
        "New work that was not agreed: Front wall.",
        "Roof seam would be done another way: replace instead of seal.",
        "Agreed work would be left out: Floor by the door.",
        "The coach would be ready 3 days later: 15 March 2026 instead of 12 March 2026.",
    )


@pytest.mark.parametrize(
    "change",
    [
        {"total_usd": D("1500.01")},
        {"pretax_usd": D("1400.01")},
        {"items": AGREED.items | {"Front wall"}},
        {"items": frozenset({"Roof seam"}), "methods": {"Roof seam": "seal"}},
        {"methods": {"Roof seam": "replace", "Floor by the door": "replace"}},
        {"methods": {"Roof seam": "seal"}},
        {"ready_on": DAY + timedelta(days=1)},
    ],
    ids=["a cent", "a cent before tax", "new", "left out", "another way", "way no longer stated", "a day"],
)
def test_the_smallest_change_of_each_kind_is_one_reason_by_the_strictest_rule(change):
    answer = needs_consent(AGREED, replace(AGREED, **change))

    assert answer.is_needed
    assert len(answer.reasons) == 1


def test_less_money_and_an_earlier_day_need_no_question():
    proposed = replace(AGREED, total_usd=D("1499.00"), pretax_usd=D("1399.00"), ready_on=DAY - timedelta(days=1))

    assert not needs_consent(AGREED, proposed).is_needed


@pytest.mark.parametrize(("base", "is_needed"), [("pretax", False), ("total", True), ("either", True)])
def test_tax_counts_only_where_the_rule_counts_it(base, is_needed):
    rule = ConsentRule(base=base)

    assert needs_consent(AGREED, replace(AGREED, total_usd=D("1510.00")), rule).is_needed == is_needed


def test_the_reason_names_what_the_rule_lets_pass():
    rule = ConsentRule(combine="greater", pct=D(10), dollar_usd=D(10), cap_usd=D(50), base="total")

    answer = needs_consent(AGREED, replace(AGREED, total_usd=D("1550.01")), rule)

    assert len(answer.reasons) == 1
    assert answer.reasons[0] == (
        "The price with tax rises by $50.01, from $1,500.00 to $1,550.01; "
        "no more than $50.00 may be added without asking."
    )
    assert not needs_consent(AGREED, replace(AGREED, total_usd=D("1550.00")), rule).is_needed


MORE = replace(
    AGREED,
    total_usd=D("1700.00"),
    pretax_usd=D("1590.00"),
    items=AGREED.items | {"Front wall"},
    ready_on=DAY + timedelta(days=2),
)


def test_what_is_inside_the_go_ahead_limit_is_reported_and_not_asked():
    answer = needs_consent(AGREED, MORE, go_ahead=GoAheadLimit(D("200.00"), 2))

    assert not answer.is_needed
    assert answer.reasons == ()
    assert len(answer.reported) == 4


@pytest.mark.parametrize("limit", [GoAheadLimit(D("199.99"), 2), GoAheadLimit(D("200.00"), 1)])
def test_a_limit_that_one_part_exceeds_covers_nothing(limit):
    answer = needs_consent(AGREED, MORE, go_ahead=limit)

    assert answer.is_needed
    assert len(answer.reasons) == 5
    assert answer.reasons[-1].startswith("The go-ahead limit does not cover it:")


def test_the_limit_is_not_added_to_what_the_rule_allows():
    rule = ConsentRule(
        combine="percent", pct=D(10), base="total", is_later_date_counted=False, is_new_item_counted=False
    )

    assert needs_consent(AGREED, MORE, rule, GoAheadLimit(D("100.00"), 30)).is_needed


def test_another_way_of_doing_it_is_asked_unless_the_owner_said_otherwise():
    other = replace(AGREED, methods={"Roof seam": "replace", "Floor by the door": "replace"})
    limit = GoAheadLimit(D("500.00"), 5)

    assert needs_consent(AGREED, other, go_ahead=limit).is_needed
    assert not needs_consent(AGREED, other, go_ahead=replace(limit, is_for_methods=True)).is_needed


def test_what_touches_safety_is_asked_unless_the_owner_said_otherwise():
    unsafe = replace(MORE, safety_items=frozenset({"Front wall"}))
    limit = GoAheadLimit(D("500.00"), 5)

    assert not needs_consent(AGREED, MORE, go_ahead=limit).is_needed
    assert needs_consent(AGREED, unsafe, go_ahead=limit).is_needed
    assert not needs_consent(AGREED, unsafe, go_ahead=replace(limit, is_for_safety=True)).is_needed


def test_the_limit_is_held_against_the_larger_rise_where_tax_falls():
    dearer = replace(AGREED, total_usd=D("1510.00"), pretax_usd=D("1450.00"))

    assert needs_consent(AGREED, dearer, go_ahead=GoAheadLimit(D("49.99"), 0)).is_needed
    assert not needs_consent(AGREED, dearer, go_ahead=GoAheadLimit(D("50.00"), 0)).is_needed


def test_agreed_work_is_not_left_out_under_the_limit():
    less = replace(AGREED, items=frozenset({"Roof seam"}), methods={"Roof seam": "seal"})
    limit = GoAheadLimit(D("500.00"), 5)

    assert needs_consent(AGREED, less, go_ahead=limit).is_needed
    assert not needs_consent(AGREED, less, go_ahead=replace(limit, is_for_methods=True)).is_needed


def test_agreed_work_that_turns_out_to_touch_safety_is_not_made_dearer_under_the_limit():
    unsafe = replace(AGREED, total_usd=D("1510.00"), safety_items=frozenset({"Roof seam"}))

    assert needs_consent(AGREED, unsafe, go_ahead=GoAheadLimit(D("500.00"), 5)).is_needed


def test_safety_that_changes_nothing_else_does_not_stand_in_the_way():
    safe = replace(AGREED, safety_items=frozenset({"Roof seam"}))
    dearer = replace(safe, total_usd=D("1510.00"))

    assert not needs_consent(safe, dearer, go_ahead=GoAheadLimit(D("10.00"), 0)).is_needed


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (lambda: replace(AGREED, total_usd=D(-1)), "total_usd must be"),
        (lambda: replace(AGREED, pretax_usd=D("1500.01")), "pretax_usd must be at most the total"),
        (lambda: replace(AGREED, methods={"Tea": "hot"}), "methods must be of items, got Tea"),
        (lambda: replace(AGREED, safety_items=frozenset({"Tea"})), "safety_items must be of items, got Tea"),
        (lambda: ConsentRule(combine="both"), "combine must be one of any_excess"),
        (lambda: ConsentRule(base="net"), "base must be one of pretax"),
        (lambda: ConsentRule(pct=D(101)), "pct must be 0 to 100"),
        (lambda: ConsentRule(pct=D("NaN")), "pct must be 0 to 100"),
        (lambda: ConsentRule(dollar_usd=D(-1)), "dollar_usd must be"),
        (lambda: ConsentRule(cap_usd=D(-1)), "cap_usd must be"),
        (lambda: GoAheadLimit(D(-1), 0), "usd_left must be"),
        (lambda: GoAheadLimit(D(1), -1), "days_left must be 0 to"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(broken, words):
    with pytest.raises(ValueError, match=words):
        broken()
