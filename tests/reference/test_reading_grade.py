"""The judge of our words, textstat 0.7.8, against published Flesch-Kincaid grades.

The grade is 0.39 x words / sentences + 11.8 x syllables / words - 15.59 (Kincaid et al. 1975 for the US Navy;
VA HSR&D instrument note). The product itself grades nothing: syllables cannot be counted well without a
dictionary, so the grade is held by the tests over all that can be composed.
"""

import csv
from pathlib import Path

import pytest
import textstat

with (Path(__file__).parent / "data" / "readability.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


def test_the_pinned_release_is_the_one_in_use():
    assert textstat.__version__ == (0, 7, 8)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["text"][:20])
def test_the_judge_counts_as_published(row):
    counted = (
        textstat.sentence_count(row["text"]),
        textstat.lexicon_count(row["text"]),
        textstat.syllable_count(row["text"]),
    )

    assert counted == (int(row["sentences"]), int(row["words"]), int(row["syllables"]))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["text"][:20])
def test_the_judge_grades_as_published(row):
    grade = textstat.flesch_kincaid_grade(row["text"])

    assert grade == pytest.approx(float(row["grade"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["text"][:20])
def test_the_formula_on_the_published_counts_gives_the_published_grade(row):
    sentences, words, syllables = (int(row[name]) for name in ("sentences", "words", "syllables"))

    grade = 0.39 * words / sentences + 11.8 * syllables / words - 15.59

    assert grade == pytest.approx(float(row["grade"]), abs=float(row["tolerance"]))
