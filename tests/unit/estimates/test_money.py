"""Money: rounded once, nothing lost."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.balance import balance_of
from estimates.calc.money import (
    BILLED,
    KINDS,
    PAYERS,
    BillLine,
    Discount,
    PriceLine,
    TaxRule,
    bill,
    bill_line,
    decimal_quantity,
    line_amount,
    margin,
    round_cents,
    split_cents,
    tax_usd,
    totals,
    with_discount,
)

cents = st.integers(0, 10_000_00).map(lambda number: Decimal(number) / 100)
lines = st.lists(
    st.builds(
        lambda amount, kind, payer, taxed: PriceLine("k", "w", kind, Decimal(1), "each", amount, amount, payer, taxed),
        cents,
        st.sampled_from(["labour", "material"]),
        st.sampled_from(["owner", "shop"]),
        st.booleans(),
    ),
    max_size=12,
)


@pytest.mark.parametrize(
    ("amount", "rounded"),
    [("0.525", "0.53"), ("0.524999", "0.52"), ("1.005", "1.01"), ("2.675", "2.68"), ("0", "0.00")],
)
def test_cents_are_rounded_half_up(amount, rounded):
    assert round_cents(Decimal(amount)) == Decimal(rounded)


@given(lines, st.integers(0, 2500), st.sampled_from(["item", "invoice"]))
def test_parts_sum_to_the_whole_and_the_shops_lines_cost_the_owner_nothing(all_lines, rate, basis):
    summed = totals(all_lines, tax_rate=Decimal(rate) / 10000, tax_basis=basis)

    own = [line for line in all_lines if line.payer == "owner"]
    assert (
        summed.labour_usd + summed.material_usd
        == summed.subtotal_usd
        == sum((line.amount_usd for line in own), Decimal(0))
    )
    assert summed.subtotal_usd + summed.tax_usd == summed.total_usd
    assert summed == totals(own, tax_rate=Decimal(rate) / 10000, tax_basis=basis)


@given(st.floats(0, 1e6, allow_nan=False))
def test_a_quantity_is_made_exact_within_half_a_unit_of_its_last_place(value):
    assert abs(decimal_quantity(value, 2) - Decimal(value)) <= Decimal("0.0050001")


@pytest.mark.parametrize("value", [-1.0, float("nan"), float("inf")])
def test_a_quantity_that_is_none_is_refused(value):
    with pytest.raises(ValueError, match="value must be a number"):
        decimal_quantity(value, 2)


def test_an_unknown_tax_rule_is_refused():
    with pytest.raises(ValueError, match="basis must be"):
        tax_usd([], rate=Decimal("0.05"), basis="guess")
    with pytest.raises(ValueError, match="rate must be"):
        tax_usd([], rate=Decimal(5), basis="item")


def test_a_line_is_rounded_once():
    assert line_amount(Decimal("2.35"), Decimal("118.00")) == Decimal("277.30")
    assert line_amount(Decimal("0.333"), Decimal("0.05")) == Decimal("0.02")


D = Decimal
RATES = {"parts": D("0.0725"), "labour": D("0.04"), "sublet": D("0.018")}
bill_lines = st.lists(
    st.tuples(
        st.sampled_from(["labour", "material", "supplies", "sublet"]),
        cents,
        st.sampled_from(PAYERS),
        st.sampled_from([*RATES, "none"]),
        st.sampled_from(["", "roof", "floor"]),
    ),
    max_size=12,
).map(
    lambda rows: [
        BillLine(f"line-{number}", kind, amount, payer, category, group)
        for number, (kind, amount, payer, category, group) in enumerate(rows)
    ]
)
bases = st.sampled_from(["item", "invoice"])


def line(key, amount, **changes):
    kind = {"kind": "material", "payer": "owner", "tax_category": "parts"} | changes
    return BillLine(key=key, amount_usd=D(amount), **kind)


@given(st.integers(0, 10_000_00), st.lists(st.decimals(0, 1000, places=3), min_size=1, max_size=10))
def test_split_cents_lose_nothing_and_no_part_is_a_cent_off(whole, weights):
    total = D(whole) / 100
    if sum(weights) == 0:
        weights[0] = D(1)

    parts = split_cents(total, weights)

    assert sum(parts) == total
    for part, weight in zip(parts, weights, strict=True):
        assert abs(part - total * weight / sum(weights)) < D("0.01")
        assert part == round_cents(part) >= 0


@given(st.integers(0, 10_000), st.lists(st.integers(0, 5), min_size=2, max_size=8).filter(any))
def test_equal_weights_differ_by_a_cent_at_most_and_the_earlier_part_gets_it(whole, weights):
    parts = split_cents(D(whole) / 100, [D(weight) for weight in weights])

    for weight in set(weights):
        same = [part for part, own in zip(parts, weights, strict=True) if own == weight]
        assert same == sorted(same, reverse=True)
        assert same[0] - same[-1] <= D("0.01")


def test_a_dollar_in_three_is_shared_out_by_the_largest_remainder():
    assert split_cents(D("1.00"), [D(1), D(1), D(1)]) == (D("0.34"), D("0.33"), D("0.33"))
    # Of 2 cents the shares are 1/3, 1/3 and 4/3; the three remainders tie, so the first part gets the cent.
    assert split_cents(D("0.02"), [D(1), D(1), D(4)]) == (D("0.01"), D("0.00"), D("0.01"))
    assert split_cents(D("0.00"), [D(0), D(0)]) == (D("0.00"), D("0.00"))


@given(bill_lines, bases)
def test_nothing_of_a_bill_is_lost_to_rounding(all_lines, basis):
    rule = TaxRule(RATES, basis)

    whole = bill(all_lines, rule)

    assert whole.subtotal_usd == sum((each.amount_usd for each in all_lines), D(0))
    assert whole.subtotal_usd + whole.tax_usd == whole.total_usd == sum(each.total_usd for each in whole.payers)
    for each in whole.payers:
        assert sum(each.by_kind.values()) == each.subtotal_usd
        assert sum(each.tax_by_category.values()) == each.tax_usd
        assert each.subtotal_usd + each.tax_usd == each.total_usd
    taxed = [each for each in all_lines if each.payer in BILLED]
    exact = [each.amount_usd * rule.rate(each.tax_category) for each in taxed]
    due = sum((round_cents(tax) for tax in exact), D(0)) if basis == "item" else round_cents(sum(exact, D(0)))
    assert whole.tax_usd == due
    assert whole.of("shop").tax_usd == 0


@given(bill_lines)
def test_each_payers_tax_is_within_a_cent_of_its_exact_share(all_lines):
    rule = TaxRule(RATES, "invoice")

    whole = bill(all_lines, rule)

    for payer in BILLED:
        exact = sum((each.amount_usd * rule.rate(each.tax_category) for each in all_lines if each.payer == payer), D(0))
        # Half a cent of rounding the whole, and less than one of sharing it out.
        assert abs(whole.of(payer).tax_usd - exact) < D("0.015")


@given(lines, st.integers(0, 2500), bases)
def test_a_bill_of_price_lines_says_what_their_totals_say(price_lines, rate, basis):
    own = [PriceLine(**{**vars(each), "key": str(number)}) for number, each in enumerate(price_lines)]
    share = D(rate) / 10000

    summed = totals(own, tax_rate=share, tax_basis=basis)
    owner = bill([bill_line(each) for each in own], TaxRule({"parts": share, "labour": share}, basis)).of("owner")

    assert (owner.subtotal_usd, owner.tax_usd, owner.total_usd) == (
        summed.subtotal_usd,
        summed.tax_usd,
        summed.total_usd,
    )
    assert (owner.by_kind["labour"], owner.by_kind["material"]) == (summed.labour_usd, summed.material_usd)


@given(bill_lines, st.integers(0, 10000), bases, st.sampled_from(["", "roof"]))
def test_a_percentage_off_lowers_its_group_by_exactly_that_and_nothing_else(all_lines, basis_points, basis, group):
    reached = [each for each in all_lines if each.payer in BILLED and group in ("", each.group)]
    if not reached:
        return
    pct = D(basis_points) / 100

    lowered = with_discount(all_lines, Discount("spring", group, pct=pct))

    off = round_cents(sum((each.amount_usd for each in reached), D(0)) * pct / 100)
    before, after = bill(all_lines, TaxRule(RATES, basis)), bill(lowered, TaxRule(RATES, basis))
    assert before.subtotal_usd - after.subtotal_usd == off
    assert after.tax_usd <= before.tax_usd
    assert after.total_usd >= 0
    assert after.of("shop") == before.of("shop")
    assert {each.reduces for each in lowered if each.kind == "discount"} <= {each.key for each in reached}


@given(bill_lines, st.integers(0, 500), st.integers(0, 500))
def test_discounts_one_after_the_other_never_take_a_line_below_nothing(all_lines, first, second):
    billed = sum((each.amount_usd for each in all_lines if each.payer in BILLED), D(0))
    if billed < 10:
        return

    lowered = with_discount(all_lines, Discount("a", amount_usd=D(first) / 100))
    lowered = with_discount(lowered, Discount("b", amount_usd=D(second) / 100))

    assert (
        bill(lowered, TaxRule({name: D(0) for name in RATES})).total_usd
        == sum((each.amount_usd for each in all_lines), D(0)) - D(first + second) / 100
    )
    for each in all_lines:
        assert each.amount_usd + sum(part.amount_usd for part in lowered if part.reduces == each.key) >= 0


def test_owner_insurer_and_shop_each_pay_their_own_part():
    all_lines = [
        line("skin", "1000.00", payer="insurer"),
        line("labour", "826.00", kind="labour", tax_category="none"),
        line("towing", "150.00", kind="sublet", tax_category="sublet"),
        line("rags", "12.40", kind="supplies"),
        line("again", "118.00", kind="labour", payer="shop", tax_category="none"),
    ]

    whole = bill(all_lines, TaxRule(RATES))

    # 1000 x 7.25 % = 72.50; 12.40 x 7.25 % = 0.899, 150 x 1.8 % = 2.70: 76.099 in all, so 76.10.
    assert whole.tax_usd == D("76.10")
    assert whole.of("insurer").total_usd == D("1072.50")
    assert whole.of("owner").tax_by_category == {"none": D(0), "sublet": D("2.70"), "parts": D("0.90")}
    assert whole.of("owner").total_usd == D("992.00")
    assert whole.of("shop").total_usd == D("118.00")


def test_what_is_paid_leaves_the_rest_and_what_is_above_the_total_comes_back():
    left, over = balance_of("owner", D("992.00"), D("300.00")), balance_of("owner", D("100.00"), D("120.00"))

    assert (left.due_usd, left.refund_usd) == (D("692.00"), D("0.00"))
    assert (over.due_usd, over.refund_usd) == (D("0.00"), D("20.00"))


@given(st.integers(0, 10**9), st.integers(0, 10**9))
def test_paid_and_left_add_up_to_the_total_to_the_cent(total_cents, paid_cents):
    each = balance_of("insurer", D(total_cents) / 100, D(paid_cents) / 100)

    assert each.paid_usd + each.due_usd - each.refund_usd == each.total_usd
    assert min(each.due_usd, each.refund_usd) == 0


def test_tax_is_on_the_price_after_the_discount():
    lowered = with_discount([line("a", "100.00"), line("b", "50.00")], Discount("off", amount_usd=D("30.00")))

    assert [each.amount_usd for each in lowered[2:]] == [D("-20.00"), D("-10.00")]
    assert bill(lowered, TaxRule(RATES)).tax_usd == D("8.70")
    assert bill(lowered, TaxRule(RATES, "item")).tax_usd == D("8.70")  # 80 x 7.25 % = 5.80, 40 x 7.25 % = 2.90


def test_a_second_discount_is_shared_by_what_the_first_one_left():
    both = [line("a", "100.00", group="roof"), line("b", "100.00")]

    lowered = with_discount(both, Discount("first", "roof", amount_usd=D("100.00")))
    lowered = with_discount(lowered, Discount("second", pct=D(50)))

    assert [(each.key, each.amount_usd) for each in lowered[2:]] == [
        ("first/a", D("-100.00")),
        ("second/b", D("-50.00")),
    ]


def test_work_the_shop_pays_for_costs_its_margin_and_not_the_owner():
    own = line("a", "500.00", cost_usd=D("320.00"))
    again = line("b", "200.00", payer="shop", kind="labour", tax_category="none", cost_usd=D("90.00"))

    kept = margin([own, again])

    assert (kept.revenue_usd, kept.cost_usd, kept.rework_usd) == (D("500.00"), D("410.00"), D("90.00"))
    assert kept.margin_usd == D("90.00") == margin([own]).margin_usd - D("90.00")


@given(bill_lines, st.integers(0, 100))
def test_margin_is_what_others_pay_less_what_all_of_it_costs(all_lines, pct):
    costed = [BillLine(**{**vars(each), "cost_usd": D("7.00")}) for each in all_lines]
    if any(each.payer in BILLED for each in costed):
        costed = list(with_discount(costed, Discount("x", pct=D(pct))))

    kept = margin(costed)

    whole = bill(costed, TaxRule(RATES))
    assert kept.revenue_usd == whole.of("owner").subtotal_usd + whole.of("insurer").subtotal_usd
    assert kept.margin_usd == kept.revenue_usd - D("7.00") * len(all_lines)
    assert kept.rework_usd == D("7.00") * sum(each.payer == "shop" for each in all_lines)


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (lambda: line("a", "-1.00"), "amount_usd must be 0 to"),
        (lambda: line("a", "1.005"), "whole cents"),
        (lambda: line("a", "NaN"), "amount_usd must be"),
        (lambda: line("a", "1e9"), "amount_usd must be"),
        (lambda: line("a", "1.00", kind="favour"), "kind must be one of " + ", ".join(KINDS)),
        (lambda: line("a", "1.00", payer="uncle"), "payer must be one of"),
        (lambda: line("a", "1.00", cost_usd=D(-1)), "cost_usd must be"),
        (lambda: line("a", "1.00", kind="discount", reduces="b"), "amount_usd must be"),
        (lambda: line("a", "-1.00", kind="discount"), "reduces must name"),
        (lambda: line("a", "1.00", reduces="b"), "reduces must name"),
        (lambda: TaxRule({"parts": D(1)}), "rates.'parts'. must be at least 0 and below 1"),
        (lambda: TaxRule({"parts": D("-0.01")}), "rates.'parts'. must be"),
        (lambda: TaxRule({"parts": D("NaN")}), "rates.'parts'. must be"),
        (lambda: TaxRule({"none": D("0.01")}), "no rate for 'none'"),
        (lambda: TaxRule({}, "guess"), "basis must be one of"),
        (lambda: Discount("a"), "and not both"),
        (lambda: Discount("a", amount_usd=D(1), pct=D(1)), "and not both"),
        (lambda: Discount("a", amount_usd=D(-1)), "amount_usd must be"),
        (lambda: Discount("a", pct=D("100.01")), "pct must be 0 to 100"),
        (lambda: Discount("a", pct=D("NaN")), "pct must be 0 to 100"),
        (lambda: with_discount([line("a", "9.99")], Discount("d", amount_usd=D("10.00"))), "at most the 9.99 USD"),
        (lambda: with_discount([line("a", "9.99")], Discount("d", "roof", pct=D(5))), "group must name lines"),
        (lambda: with_discount([line("a", "1.00", payer="shop")], Discount("d", pct=D(5))), "group must name lines"),
        (lambda: bill([line("a", "1.00"), line("a", "2.00")], TaxRule(RATES)), "key must be used once"),
        (lambda: bill([line("a", "1.00", tax_category="tea")], TaxRule(RATES)), "tax_category must be one of"),
        (lambda: bill([line("d", "-1.00", kind="discount", reduces="a")], TaxRule(RATES)), "reduces must name"),
        (
            lambda: bill([line("a", "1.00"), line("d", "-1.01", kind="discount", reduces="a")], TaxRule(RATES)),
            "'a' would fall below 0",
        ),
        (
            lambda: bill(
                [line("a", "1.00"), line("d", "-1.00", kind="discount", reduces="a", payer="insurer")], TaxRule(RATES)
            ),
            "of the same payer",
        ),
        (lambda: balance_of("owner", D(1), D(-1)), "paid_usd must be"),
        (lambda: balance_of("owner", D("1.001"), D(1)), "total_usd must be"),
        (lambda: balance_of("shop", D(1), D(1)), "payer must be one of owner, insurer"),
        (lambda: bill([], TaxRule(RATES)).of("uncle"), "payer must be one of"),
        (lambda: margin([line("a", "1.00")]), "missing for a"),
        (lambda: split_cents(D("-0.01"), [D(1)]), "total must be"),
        (lambda: split_cents(D("1.00"), [D(2), D(-1)]), "weights must be at least 0"),
        (lambda: split_cents(D("1.00"), [D(0)]), "weights must have a sum above 0"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(broken, words):
    with pytest.raises(ValueError, match=words):
        broken()
