"""Cutting plans against published instances and their optimum.

The optimum of paper_110 is known from memory and confirmed by another solver (column verified_optimum_ortools_scip);
the test takes that column, which agrees with the published one where there is one.
"""

import csv
import json
import time
from pathlib import Path

import pytest

from estimates.calc.cutting import Piece, Stock, cut_sticks
from estimates.calc.cutting_search import Relaxation
from estimates.calc.cutting_task import Task

DATA = Path(__file__).parent / "data"
LIMIT_S = 1.0


def rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


INSTANCES = {row["id"]: row for row in rows("cutting_stock_instances.csv")}


def read(row):
    lengths, counts = json.loads(row["piece_lengths_json"]), json.loads(row["demands_json"])
    return [Piece(length, count) for length, count in zip(lengths, counts, strict=True)], float(row["stock_length"])


def test_there_are_instances():
    assert set(INSTANCES) == {"paper_5600", "paper_110", "solver_doc_94"}


@pytest.mark.parametrize("row", INSTANCES.values(), ids=lambda row: row["id"])
def test_the_published_optimum_is_reached_and_proven_within_a_second(row):
    pieces, stock_mm = read(row)
    began = time.process_time()

    plan = cut_sticks(pieces, [Stock(stock_mm)], kerf_mm=0)

    assert time.process_time() - began < LIMIT_S
    assert plan.is_proven_optimal
    assert plan.count == int(row["verified_optimum_ortools_scip"])
    if row["published_optimum"].isdigit():
        assert plan.count == int(row["published_optimum"])


@pytest.mark.parametrize("row", INSTANCES.values(), ids=lambda row: row["id"])
def test_the_waste_at_the_optimum_and_the_bounds_are_as_computed_elsewhere(row):
    pieces, stock_mm = read(row)

    plan = cut_sticks(pieces, [Stock(stock_mm)], kerf_mm=0)

    assert 100 * plan.waste_share == pytest.approx(float(row["waste_pct_at_optimum"]), abs=0.0005)
    assert int(row["material_bound"]) <= plan.count <= int(row["first_fit_decreasing_count"])


@pytest.mark.parametrize("row", INSTANCES.values(), ids=lambda row: row["id"])
def test_the_linear_bound_is_the_one_another_solver_found(row):
    pieces, stock_mm = read(row)
    pieces.sort(key=lambda piece: -piece.length_mm)
    lengths = tuple(round(10 * piece.length_mm) for piece in pieces)
    demand = tuple(piece.count for piece in pieces)
    relaxed = Relaxation(Task(lengths, demand, (round(10 * stock_mm),), (1,), (sum(demand),), (False,)))

    relaxed.run()

    assert relaxed.bound == pytest.approx(float(row["verified_lp_bound"]), abs=0.0001)


def test_the_published_patterns_fit_their_stick_and_use_as_many_as_our_plan():
    """The printed usages of one instance: each fits, together they meet the demand, 161 sticks."""
    patterns = rows("cutting_stock_published_patterns.csv")
    pieces, stock_mm = read(INSTANCES["solver_doc_94"])
    made = [0] * len(pieces)
    for row in patterns:
        counts = json.loads(row["pattern_json_by_piece_order"])
        used = sum(piece.length_mm * count for piece, count in zip(pieces, counts, strict=True))
        made = [have + count * int(row["times"]) for have, count in zip(made, counts, strict=True)]
        assert used == pytest.approx(float(row["used_length"]))
        assert used <= stock_mm

    plan = cut_sticks(pieces, [Stock(stock_mm)], kerf_mm=0)

    assert all(have >= piece.count for have, piece in zip(made, pieces, strict=True))
    assert plan.count == sum(int(row["times"]) for row in patterns)
