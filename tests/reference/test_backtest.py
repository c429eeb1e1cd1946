"""The back-test's measures against printed values and another library.

Pinball loss: the values printed in scikit-learn's documentation, tests/reference/data/forecast_scoring_vectors.csv.
The exact range of a share: scipy.stats.binomtest, an implementation of its own.
"""

import csv
import re
from pathlib import Path

import pytest
from scipy.stats import binomtest

from estimates.calc.backtest import pinball_loss, share_range

DATA = Path(__file__).parent / "data" / "forecast_scoring_vectors.csv"
with DATA.open(encoding="utf-8", newline="") as file:
    PINBALL = [row for row in csv.DictReader(file) if row["measure"] == "pinball" and row["status"] == "published"]


def numbers(text, name):
    return [float(each) for each in re.search(rf"{name}=\[(.*?)\]", text)[1].split(",")]


def test_all_printed_losses_are_there():
    assert len(PINBALL) == 4


@pytest.mark.parametrize("row", PINBALL, ids=lambda row: row["inputs"])
def test_a_printed_pinball_loss(row):
    pairs = list(zip(numbers(row["inputs"], "y"), numbers(row["inputs"], "q"), strict=True))
    share = float(re.search(r"alpha=(\S+)", row["inputs"])[1])

    assert pinball_loss(pairs, share) == pytest.approx(float(row["value"]), abs=6e-5)


# 81 of 263, 15 of 148, 0 of 20 and 1 of 29 are the examples of Newcombe 1998, Statistics in Medicine 17 (from memory).
@pytest.mark.parametrize(("hits", "of"), [(81, 263), (15, 148), (0, 20), (1, 29), (7, 9), (9, 9), (0, 1), (160, 200)])
@pytest.mark.parametrize("sure", [0.8, 0.95])
def test_the_exact_range_of_a_share(hits, of, sure):
    known = binomtest(hits, of).proportion_ci(sure, method="exact")

    assert share_range(hits, of, sure) == pytest.approx((known.low, known.high), abs=1e-9)
