"""Cutting plans: every piece, no stick overfull, as few as can be."""

import math
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from estimates.calc import cutting_search
from estimates.calc.cutting import Piece, Stock, cut_sticks, sticks_worked

EIGHT_FT, TWELVE_FT, SIXTEEN_FT = 2438.4, 3657.6, 4876.8
KERF_MM = 3.175
SLACK_MM = 1e-5

inches = st.integers(2, 95).map(lambda eighths: eighths * 25.4)
piece_lists = st.lists(st.builds(Piece, inches, st.integers(1, 5)), min_size=1, max_size=7)
kerfs = st.sampled_from([0.0, 1.6, KERF_MM])
on_hand = st.lists(st.builds(Stock, inches, st.integers(0, 3)), max_size=2)


def cut_lengths(plan):
    return Counter(round(length, 3) for stick in plan.sticks for length in stick.pieces_mm * stick.count)


def wanted_lengths(pieces):
    wanted = Counter()
    for piece in pieces:
        wanted[round(piece.length_mm, 3)] += piece.count
    return wanted


def first_fit_decreasing(pieces, stock_mm, kerf_mm):
    rooms = []
    for length in sorted((piece.length_mm for piece in pieces for _ in range(piece.count)), reverse=True):
        at = next((i for i, room in enumerate(rooms) if room >= length + kerf_mm - SLACK_MM), None)
        if at is None:
            at = len(rooms)
            rooms.append(stock_mm + kerf_mm)
        rooms[at] -= length + kerf_mm
    return len(rooms)


def cheapest_by_another_model(pieces, stock, kerf_mm):
    """Every piece assigned to a stick, by zeros and ones: slow, and nothing in common with patterns."""
    lengths = [piece.length_mm for piece in pieces for _ in range(piece.count)]
    slots = [each for each in stock for _ in range(len(lengths) if each.available is None else each.available)]
    costs = [(each.length_mm if each.available is None else 0) if each.cost is None else each.cost for each in slots]
    count, sticks = len(lengths), len(slots)
    rows, low, high = [], [], []
    for piece in range(count):
        row = [0.0] * (sticks + count * sticks)
        row[sticks + piece * sticks : sticks + (piece + 1) * sticks] = [1.0] * sticks
        rows.append(row), low.append(1), high.append(1)
    for stick, slot in enumerate(slots):
        row = [0.0] * (sticks + count * sticks)
        row[stick] = -(slot.length_mm + kerf_mm)
        row[sticks + stick :: sticks] = [length + kerf_mm for length in lengths]
        rows.append(row), low.append(-math.inf), high.append(0)
    size = sticks + count * sticks
    return milp(
        costs + [0.0] * (count * sticks),
        constraints=LinearConstraint(rows, low, high),
        integrality=[1] * size,
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0},
    ).fun


def test_pieces_share_a_stick_with_a_kerf_between_them():
    plan = cut_sticks([Piece(1200, 2), Piece(1230, 1)], [Stock(EIGHT_FT)], kerf_mm=KERF_MM)

    assert plan.count == 2
    assert plan.to_buy == {EIGHT_FT: 2}
    assert plan.sticks[0].pieces_mm == (1230.0, 1200.0)
    assert plan.sticks[0].offcut_mm == pytest.approx(EIGHT_FT - 1230 - 1200 - 2 * KERF_MM)
    assert plan.is_proven_optimal


def test_the_last_piece_may_end_where_the_stick_ends():
    exact = cut_sticks([Piece((EIGHT_FT - KERF_MM) / 2, 2)], [Stock(EIGHT_FT)], kerf_mm=KERF_MM)
    over = cut_sticks([Piece((EIGHT_FT - KERF_MM) / 2 + 0.001, 2)], [Stock(EIGHT_FT)], kerf_mm=KERF_MM)

    assert (exact.count, exact.offcuts_mm) == (1, ())
    assert over.count == 2


def test_of_two_lengths_the_cheaper_mix_is_bought():
    stock = [Stock(EIGHT_FT, cost=4.10), Stock(SIXTEEN_FT, cost=9.80)]

    plan = cut_sticks([Piece(2300, 4)], stock, kerf_mm=KERF_MM)

    assert plan.to_buy == {EIGHT_FT: 4}
    assert plan.cost == pytest.approx(16.40)


def test_without_costs_the_least_length_is_bought():
    plan = cut_sticks([Piece(1800, 2)], [Stock(EIGHT_FT), Stock(TWELVE_FT)], kerf_mm=KERF_MM)

    assert plan.to_buy == {TWELVE_FT: 1}
    assert plan.cost == pytest.approx(TWELVE_FT)


def test_what_is_on_hand_saves_buying_and_the_shortest_that_will_do_is_taken():
    stock = [Stock(EIGHT_FT), Stock(2000, available=1), Stock(1300, available=1)]

    plan = cut_sticks([Piece(1250, 1)], stock, kerf_mm=KERF_MM)

    assert plan.to_buy == {}
    assert [(stick.stock_mm, stick.is_on_hand) for stick in plan.sticks] == [(1300, True)]


def test_a_piece_longer_than_every_stick_is_refused_in_words():
    with pytest.raises(ValueError, match=r"longest stick, 2438\.4 mm, got 2500 mm: no stick is long enough"):
        cut_sticks([Piece(2500)], [Stock(EIGHT_FT)], kerf_mm=0)


def test_a_stick_on_hand_that_is_used_up_holds_no_long_piece():
    with pytest.raises(ValueError, match=r"longest stick, 2438\.4 mm"):
        cut_sticks([Piece(2500)], [Stock(EIGHT_FT), Stock(3000, available=0)], kerf_mm=0)


def test_too_few_sticks_on_hand_are_refused_in_words():
    with pytest.raises(ValueError, match="too few sticks on hand"):
        cut_sticks([Piece(2000, 3)], [Stock(2100, available=2)], kerf_mm=0)


def test_a_stick_on_hand_is_used_once_and_the_next_longer_one_after_it():
    stock = [Stock(EIGHT_FT), Stock(2000, available=1), Stock(1300, available=1)]

    plan = cut_sticks([Piece(1250, 2)], stock, kerf_mm=KERF_MM)

    assert sorted(stick.stock_mm for stick in plan.sticks) == [1300, 2000]
    assert [stick.count for stick in plan.sticks] == [1, 1]


@pytest.mark.parametrize(
    ("halves", "on_hand_halves", "bought"),
    [
        ([(62, 2), (40, 3), (76, 3), (21, 2)], [(54.4, 2), (138, 2)], 1),
        ([(65, 2), (23, 1), (50, 1), (84, 3), (80, 1)], [(132.6, 2), (120, 1)], 1),
        ([(20, 3), (75, 3), (56, 3), (80, 2)], [(64.6, 1), (100, 2)], 2),
    ],
)
def test_sticks_on_hand_are_shared_out_where_first_fit_would_buy_more(halves, on_hand_halves, bought):
    """Lengths in half inches; found by trial: first fit buys one more, and with more on hand one could buy less."""
    pieces = [Piece(length * 12.7, count) for length, count in halves]
    stock = [Stock(EIGHT_FT), *(Stock(length * 12.7, count) for length, count in on_hand_halves)]

    plan = cut_sticks(pieces, stock, kerf_mm=KERF_MM)

    assert plan.to_buy == {EIGHT_FT: bought}
    assert plan.is_proven_optimal
    assert plan.cost == pytest.approx(cheapest_by_another_model(pieces, stock, KERF_MM), abs=0.01)


def test_a_plan_in_words_names_what_is_bought_and_what_is_on_hand():
    stock = [Stock(EIGHT_FT), Stock(TWELVE_FT), Stock(1000, available=2)]
    plan = cut_sticks([Piece(3600, 2), Piece(2400, 1), Piece(914.4, 1)], stock, kerf_mm=KERF_MM)

    us, metric = (sticks_worked(plan, units=units) for units in ("us", "metric"))

    assert us.words == (
        "4 pieces, 34.5 ft in all, 1/8 in saw cut = 2 sticks of 12 ft and 1 of 8 ft, "
        "and from what is on hand 1 of 3.3 ft"
    )
    assert metric.words.startswith("4 pieces, 10.51 m in all, 3 mm saw cut = 2 sticks of 3.66 m and 1 of 2.44 m")
    assert (us.quantity, us.packs) == (pytest.approx(10.5144), 3)


def test_a_plan_from_what_is_on_hand_alone_says_that_nothing_is_bought():
    plan = cut_sticks([Piece(900, 1)], [Stock(1000, available=2)], kerf_mm=0)

    worked = sticks_worked(plan, units="metric")

    assert worked.words == "1 piece, 0.90 m in all = no stick to buy, and from what is on hand 1 of 1.00 m"
    assert worked.packs == 0


def test_sticks_sold_only_so_often_are_bought_no_oftener():
    stock = [Stock(EIGHT_FT, cost=5.0), Stock(EIGHT_FT, available=2, cost=3.0)]

    plan = cut_sticks([Piece(2000, 3)], stock, kerf_mm=0)

    assert plan.cost == pytest.approx(3 + 3 + 5)
    assert not any(stick.is_on_hand for stick in plan.sticks)
    assert plan.to_buy == {EIGHT_FT: 3}


def test_sixty_different_lengths_are_proven_by_their_material_alone():
    pieces = [Piece(400 + 8.7 * number) for number in range(60)]
    material = sum(piece.length_mm + KERF_MM for piece in pieces)

    plan = cut_sticks(pieces, [Stock(EIGHT_FT)], kerf_mm=KERF_MM)

    assert plan.count == math.ceil(material / (EIGHT_FT + KERF_MM)) == 17
    assert plan.is_proven_optimal


def test_no_pieces_take_no_sticks():
    plan = cut_sticks([], [Stock(EIGHT_FT)], kerf_mm=KERF_MM)

    assert (plan.count, plan.cost, plan.waste_share, plan.is_proven_optimal) == (0, 0.0, 0.0, True)


@pytest.mark.parametrize(
    ("pieces", "stock", "kerf_mm", "words"),
    [
        ([Piece(100)], [Stock(2000)], -1, "kerf_mm must be 0 to 25, got -1"),
        ([Piece(100)], [Stock(2000)], math.nan, "kerf_mm"),
        ([Piece(0)], [Stock(2000)], 3, "length_mm must be 0.001 to 30000, got 0"),
        ([Piece(math.nan)], [Stock(2000)], 3, "length_mm"),
        ([Piece(100)], [Stock(31_000)], 3, "length_mm"),
        ([Piece(100, 0)], [Stock(2000)], 3, "count must be at least 1"),
        ([Piece(100, 10_001)], [Stock(2000)], 3, "count must be at least 1 and 10000 in all"),
        ([Piece(100 + each) for each in range(101)], [Stock(2000)], 3, "at most 100 different lengths"),
        ([Piece(100)], [Stock(2000, available=-1)], 3, "available"),
        ([Piece(100)], [Stock(2000, cost=0)], 3, "cost must be above 0"),
        ([Piece(100)], [Stock(2000, cost=3), Stock(3000)], 3, "cost must be given for every sold stick or for none"),
    ],
)
def test_absurd_sizes_are_refused_by_name(pieces, stock, kerf_mm, words):
    with pytest.raises(ValueError, match=words):
        cut_sticks(pieces, stock, kerf_mm=kerf_mm)


def test_past_a_limit_the_plan_says_that_it_is_not_proven(monkeypatch):
    """The encyclopaedia's paper rolls, which first fit cuts from 82: with no pattern to search it owns up."""
    lengths = [1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200]
    counts = [22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20]
    pieces = [Piece(length, count) for length, count in zip(lengths, counts, strict=True)]
    for limit in ["FEW_PATTERNS", "MOST_PATTERNS", "MOST_COLUMNS"]:
        monkeypatch.setattr(cutting_search, limit, 0)

    plan = cut_sticks(pieces, [Stock(5600)], kerf_mm=0)

    assert not plan.is_proven_optimal
    assert 73 <= plan.count <= 82
    assert cut_lengths(plan) == wanted_lengths(pieces)


@settings(deadline=None, max_examples=60)
@given(piece_lists, kerfs, on_hand)
def test_every_piece_is_cut_from_sticks_that_hold_it_and_that_there_are(pieces, kerf_mm, offcuts):
    stock = [Stock(EIGHT_FT), Stock(TWELVE_FT), *offcuts]

    plan = cut_sticks(pieces, stock, kerf_mm=kerf_mm)

    assert cut_lengths(plan) == wanted_lengths(pieces)
    for stick in plan.sticks:
        used = sum(stick.pieces_mm) + kerf_mm * (len(stick.pieces_mm) - 1)
        assert used <= stick.stock_mm + SLACK_MM
        assert stick.offcut_mm == pytest.approx(max(0, stick.stock_mm - used - kerf_mm), abs=SLACK_MM)
    there_are, taken = Counter(), Counter()
    for each in offcuts:
        there_are[each.length_mm] += each.available
    for stick in plan.sticks:
        taken[stick.stock_mm] += stick.count if stick.is_on_hand else 0
    assert all(count <= there_are[length] for length, count in taken.items())


@settings(deadline=None, max_examples=60)
@given(piece_lists, kerfs)
def test_the_count_lies_between_the_material_and_first_fit_decreasing(pieces, kerf_mm):
    plan = cut_sticks(pieces, [Stock(EIGHT_FT)], kerf_mm=kerf_mm)

    material = sum((piece.length_mm + kerf_mm) * piece.count for piece in pieces)
    assert plan.is_proven_optimal
    assert math.ceil(material / (EIGHT_FT + kerf_mm) - 1e-9) <= plan.count
    assert plan.count <= first_fit_decreasing(pieces, EIGHT_FT, kerf_mm)
    assert 0 <= plan.waste_share < 1


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.builds(Piece, inches, st.integers(1, 2)), min_size=1, max_size=4),
    on_hand,
    st.sampled_from([(None, None), (3.5, 4.25), (2.0, 4.5)]),
)
def test_a_proven_plan_costs_what_another_model_finds(pieces, offcuts, costs):
    stock = [Stock(EIGHT_FT, cost=costs[0]), Stock(TWELVE_FT, cost=costs[1]), *offcuts]

    plan = cut_sticks(pieces, stock, kerf_mm=KERF_MM)

    assert plan.is_proven_optimal
    assert plan.cost == pytest.approx(cheapest_by_another_model(pieces, stock, KERF_MM), abs=0.01)


@settings(deadline=None, max_examples=30)
@given(piece_lists, on_hand)
def test_a_stick_more_on_hand_never_makes_a_plan_dearer(pieces, offcuts):
    without = cut_sticks(pieces, [Stock(EIGHT_FT)], kerf_mm=KERF_MM)
    with_more = cut_sticks(pieces, [Stock(EIGHT_FT), *offcuts], kerf_mm=KERF_MM)

    assert with_more.cost <= without.cost
