"""How long charts take, each also against an empty sheet. Nothing here fails by time."""

import time
from datetime import UTC, datetime, timedelta

import pytest

from jobs.calc.faces import FACE_NAMES, unfold
from jobs.charts import drying, moisture_plan
from jobs.charts.drying import CurvePoint, DryerSpan, DryingChart, ReadingMark
from jobs.charts.figure import WIDTH_PT, print_sheet
from jobs.charts.moisture_plan import MoisturePlan, PlanFace, PlanStation

START = datetime(2026, 11, 20, 15, tzinfo=UTC)
ROUNDS = 7


@pytest.fixture
def say(capsys):
    def print_now(text):
        with capsys.disabled():
            print(f"\n{text}")

    return print_now


def best_of(what):
    spans = []
    for _ in range(ROUNDS):
        started = time.perf_counter()
        drawn = what()
        spans.append(time.perf_counter() - started)
    return min(spans), len(drawn)


def hours(number):
    return START + timedelta(hours=number)


def a_chart():
    readings = tuple(ReadingMark(hours(6 * n), 9 + 30 * 0.97**n) for n in range(30))
    curve = tuple(CurvePoint(hours(3 * n), *[9 + 30 * r**n for r in (0.983, 0.985, 0.987)]) for n in range(120))
    dryers = (DryerSpan(hours(2), None, "2 blowers"), DryerSpan(hours(20), hours(60), "1 dehumidifier"))
    return DryingChart(
        "Station 3, framing", readings, hours(180), 19, "America/Chicago", curve, 9.0, dryers, hours(220), hours(290)
    )


def a_plan():
    faces = tuple(
        PlanFace(FACE_NAMES[face.face], face.x_mm, face.y_mm, face.width_mm, face.height_mm)
        for face in unfold(length_mm=9000, width_mm=2500, height_mm=2200)
    )
    stations = tuple(
        PlanStation(n + 1, faces[n % 6].name, 150 + n * 577 % 2300, 100 + n * 331 % 2000, 12 + n * 7 % 45)
        for n in range(24)
    )
    return MoisturePlan("framing", "Mon, Nov 23, 9:10 AM", 19, faces, stations)


@pytest.mark.parametrize("fmt", ["svg", "png"])
@pytest.mark.parametrize(
    ("name", "draw", "data"),
    [
        ("drying chart, 30 readings", drying.draw, a_chart()),
        ("moisture plan, 24 stations", moisture_plan.draw, a_plan()),
    ],
)
def test_a_picture(say, name, draw, data, fmt):
    def blank():
        return print_sheet(lambda _: None, width_pt=WIDTH_PT, height_pt=450, fmt=fmt, title="", words="")

    blank()  # fonts are read once
    blank_s, _ = best_of(blank)

    drawn_s, size = best_of(lambda: draw(data, fmt))

    say(
        f"{name}, {fmt}, best of {ROUNDS}: {drawn_s * 1000:.0f} ms, "
        f"{drawn_s / blank_s:.0f} times an empty sheet; {size / 1000:.0f} kB"
    )
    assert size > 10_000
