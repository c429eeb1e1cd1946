"""Lengths as people type them and as the pages print them."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.lengths import parse_length_mm, print_length

INCH_MM = 25.4
SIXTEENTHS = st.integers(min_value=0, max_value=int(30_000 / INCH_MM * 16))


@pytest.mark.parametrize(
    ("text", "units", "length_mm"),
    [
        ("6' 3 1/2\"", "us", 75.5 * INCH_MM),
        ("6'3-1/2\"", "us", 75.5 * INCH_MM),
        ("6'-3 1/2", "us", 75.5 * INCH_MM),
        ("6 ft 3.5 in", "us", 75.5 * INCH_MM),
        ("6 FT. 3.5 IN.", "us", 75.5 * INCH_MM),
        ("6 feet 3 1/2 inches", "us", 75.5 * INCH_MM),
        ("6′ 3½″", "us", 75.5 * INCH_MM),
        ("6’ 3½”", "us", 75.5 * INCH_MM),
        ("75 1/2", "us", 75.5 * INCH_MM),
        ("75½", "us", 75.5 * INCH_MM),
        ('75.5"', "us", 75.5 * INCH_MM),
        ("75.5''", "us", 75.5 * INCH_MM),
        ("6'", "us", 72 * INCH_MM),
        ("6 1/2 ft", "us", 78 * INCH_MM),
        ("3/4", "us", 0.75 * INCH_MM),
        (".5", "us", 0.5 * INCH_MM),
        ("0", "us", 0.0),
        ("1.92 m", "us", 1920.0),
        ("1,92 m", "metric", 1920.0),
        ("1,925 m", "metric", 1925.0),
        ("2 metres", "metric", 2000.0),
        ("192 cm", "metric", 1920.0),
        ("192cm", "metric", 1920.0),
        ("1920 mm", "us", 1920.0),
        ("1920", "metric", 1920.0),
        ("  1920\u00a0mm ", "metric", 1920.0),
        ("6' 3 1/2\"", "metric", 75.5 * INCH_MM),
        ("30 m", "metric", 30_000.0),
    ],
)
def test_a_length_is_read_as_people_write_it(text, units, length_mm):
    assert parse_length_mm(text, units=units) == pytest.approx(length_mm, rel=1e-12)


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize(
    "text",
    [
        *("-5", "−5", "-6' 3\"", "abc", "six feet", "1/0", "3 5/4", "1.2.3", "1e3", "nan", "inf", "5 in 3 ft"),
        *(
            "6' 32\"",
            "6' 12\"",
            "2 x 4",
            "1 1/2 1/2",
            "1/2/3",
            "5 furlongs",
            "30.01 m",
            "99'",
            "9" * 5000,
            "٣",
            "m",
            "'",
        ),
    ],
)
def test_what_is_no_length_is_refused_with_what_was_typed_and_an_example(text, units):
    with pytest.raises(ValueError, match=r"(?s).+") as refusal:
        parse_length_mm(text, units=units)

    words = str(refusal.value)
    assert f"“{text[:40]}" in words
    assert {"us": "6' 3 1/2\"", "metric": "1.92 m"}[units] in words
    assert len(words) < 200


@pytest.mark.parametrize("text", ["", "   ", "\u00a0"])
def test_an_empty_field_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match=r"No length was typed.*1\.92 m"):
        parse_length_mm(text, units="metric")


@pytest.mark.parametrize(
    ("text", "units", "instead"),
    [
        ("1,920 mm", "us", "Write 1920 if"),
        ("1.920 mm", "metric", "Write 1920 if"),
        ("1,920", "us", "Write 1920 if"),
        ("1.92", "metric", "Write 1.92 m if"),
        ("1,92", "metric", "Write 1,92 m if"),
    ],
)
def test_what_can_be_read_two_ways_is_refused_with_what_to_write_instead(text, units, instead):
    with pytest.raises(ValueError, match=instead):
        parse_length_mm(text, units=units)


def test_a_bare_number_with_decimals_stays_millimetres_where_metres_make_no_sense():
    assert parse_length_mm("1920.5", units="metric") == 1920.5


def test_a_system_of_units_nobody_knows_is_refused():
    with pytest.raises(ValueError, match="units must be"):
        parse_length_mm("5", units="cubits")
    with pytest.raises(ValueError, match="units must be"):
        print_length(5.0, units="cubits")


@pytest.mark.parametrize(
    ("mm", "us", "metric"),
    [
        (0.0, '0"', "0 mm"),
        (12.7, '1/2"', "13 mm"),
        (88.9, '3 1/2"', "89 mm"),
        (304.8, "1' 0\"", "305 mm"),
        (317.5, "1' 0 1/2\"", "318 mm"),
        (1917.7, "6' 3 1/2\"", "1.918 m"),
        (920.0, "3' 0 1/4\"", "920 mm"),
        (999.6, "3' 3 3/8\"", "1.00 m"),
        (1920.0, "6' 3 9/16\"", "1.92 m"),
        (2000.0, "6' 6 3/4\"", "2.00 m"),
    ],
)
def test_a_length_is_printed_in_the_units_of_the_shop(mm, us, metric):
    assert print_length(mm, units="us") == us
    assert print_length(mm, units="metric") == metric


@pytest.mark.parametrize("mm", [-0.1, math.nan, math.inf])
def test_what_is_no_length_is_not_printed(mm):
    with pytest.raises(ValueError, match="mm must be"):
        print_length(mm, units="us")


@given(SIXTEENTHS)
def test_every_sixteenth_of_an_inch_comes_back_exactly(sixteenths):
    mm = float(Fraction(sixteenths, 16) * Fraction(254, 10))

    assert parse_length_mm(print_length(mm, units="us"), units="us") == mm


@given(st.integers(min_value=0, max_value=30_000))
def test_every_whole_millimetre_comes_back_exactly(mm):
    assert parse_length_mm(print_length(float(mm), units="metric"), units="metric") == mm


@given(st.floats(min_value=0, max_value=29_999), st.sampled_from(["us", "metric"]))
def test_printing_moves_a_length_by_at_most_half_of_its_last_step(mm, units):
    step_mm = {"us": INCH_MM / 16, "metric": 1.0}[units]

    assert abs(parse_length_mm(print_length(mm, units=units), units=units) - mm) <= step_mm / 2 + 1e-9


@given(st.text(max_size=60), st.sampled_from(["us", "metric"]))
def test_any_text_is_either_a_length_in_range_or_refused_in_words(text, units):
    length_mm, refusal = length_or_refusal(text, units)

    assert 0 <= length_mm <= 30_000 if refusal is None else refusal[0] in "“N"


@given(st.text(alphabet="0123456789 ./,'\"-ftinmc½¼", max_size=20), st.sampled_from(["us", "metric"]))
def test_texts_made_of_the_signs_of_lengths_never_break_the_reader(text, units):
    length_mm, refusal = length_or_refusal(text, units)

    assert 0 <= length_mm <= 30_000 if refusal is None else refusal[0] in "“N"


def length_or_refusal(text, units):
    try:
        return parse_length_mm(text, units=units), None
    except ValueError as refusal:
        return None, str(refusal)
