"""How long the sticks of a job take to plan, in processor time. Nothing here fails by time."""

import csv
import json
import random
import time
from pathlib import Path
from statistics import median

import pytest

from estimates.calc.cutting import Piece, Stock, cut_sticks

DATA = Path(__file__).parents[1] / "reference" / "data"
JOB_LIMIT_S, INSTANCE_LIMIT_S = 0.020, 1.0
EIGHT_FT, TWELVE_FT, KERF_MM = 2438.4, 3657.6, 3.175
SIXTEENTH_MM = 25.4 / 16
COUNTS = [4, 4, 4, 3, 3, 3, 2, 2]


@pytest.fixture
def say(capsys):
    def print_now(text):
        with capsys.disabled():
            print(f"\n{text}")

    return print_now


def test_the_sticks_of_a_job(say):
    """25 pieces of 8 lengths, 6 to 90 in, from sticks of 8 and 12 ft: forty such jobs."""
    chance = random.Random(3)
    jobs = [[Piece(chance.randint(96, 1440) * SIXTEENTH_MM, count) for count in COUNTS] for _ in range(40)]
    stock = [Stock(EIGHT_FT), Stock(TWELVE_FT)]
    for pieces in jobs:  # what is loaded once is loaded, the solver too, which some of them need
        cut_sticks(pieces, stock, kerf_mm=KERF_MM)

    timed = sorted((spent(pieces, stock, KERF_MM) for pieces in jobs), key=lambda each: each[0])

    times_s = [each[0] for each in timed]
    say(
        f"sticks of a job: median {median(times_s) * 1000:.1f} ms, slowest {times_s[-1] * 1000:.1f} ms; "
        f"{sum(each <= JOB_LIMIT_S for each in times_s)} of {len(jobs)} within {JOB_LIMIT_S * 1000:g} ms"
    )
    assert all(plan.is_proven_optimal for _, plan in timed)


def test_the_published_instances(say):
    with (DATA / "cutting_stock_instances.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            demands = zip(json.loads(row["piece_lengths_json"]), json.loads(row["demands_json"]), strict=True)
            pieces = [Piece(length, count) for length, count in demands]

            spent_s, plan = spent(pieces, [Stock(float(row["stock_length"]))], 0.0)

            say(f"{row['id']}: {spent_s * 1000:.1f} ms, {spent_s / INSTANCE_LIMIT_S:.3f} of the limit")
            assert plan.is_proven_optimal


def spent(pieces, stock, kerf_mm):
    began = time.process_time()
    plan = cut_sticks(pieces, stock, kerf_mm=kerf_mm)
    return time.process_time() - began, plan
