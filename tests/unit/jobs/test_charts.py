"""Drying charts and moisture plans: what is drawn, for whom it can be read, and that it never changes by itself."""

import functools
import hashlib
import io
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from jobs.calc.faces import FACE_NAMES, unfold
from jobs.charts import drying, figure, moisture_plan, moisture_plan_data
from jobs.charts.drying import CurvePoint, DryerSpan, DryingChart, ReadingMark, chart_words
from jobs.charts.labels import Flag, place_bars, place_flags, place_tags, spread
from jobs.charts.moisture_plan import MoisturePlan, PlanFace, PlanStation, plan_words

ROOT = Path(__file__).resolve().parents[3]
CHICAGO = ZoneInfo("America/Chicago")
SVG = "{http://www.w3.org/2000/svg}"
START = datetime(2026, 11, 20, 15, tzinfo=UTC)
NOW = START + timedelta(hours=76)


def hours(number):
    return START + timedelta(hours=number)


def a_curve(until_h, now_h=76):
    """Falling from 38 %, with a band that opens from now on."""
    points = []
    for hour in range(0, until_h + 1, 6):
        median = 9 + 29 * 0.992**hour
        spread_pct = 0.03 * max(0, hour - now_h)
        points.append(CurvePoint(hours(hour), max(0, median - spread_pct), median, median + spread_pct))
    return tuple(points)


CHART = DryingChart(
    station="Station 3, framing, spruce",
    readings=tuple(ReadingMark(hours(24 * day), mc) for day, mc in enumerate((38.1, 33.4, 29.0, 25.2))),
    now=NOW,
    limit_pct=19,
    time_zone="America/Chicago",
    curve=a_curve(240),
    equilibrium_pct=9.2,
    dryers=(DryerSpan(hours(2), None, "2 blowers"), DryerSpan(hours(20), hours(60), "1 dehumidifier")),
    dry_even_at=hours(133),
    dry_safe_at=hours(186),
)
FACES = tuple(
    PlanFace(FACE_NAMES[face.face], face.x_mm, face.y_mm, face.width_mm, face.height_mm)
    for face in unfold(length_mm=9000, width_mm=2500, height_mm=2200)
)
PLAN = MoisturePlan(
    layer="framing",
    taken_at_words="Mon, Nov 23, 9:10 AM",
    limit_pct=19,
    faces=FACES,
    stations=(
        PlanStation(1, "roof", 500, 400, 44.0),
        PlanStation(2, "roof", 1100, 700, 17.0),
        PlanStation(3, "floor", 4000, 0, 40.0, "high"),
        PlanStation(4, "rear wall", 2500, 2200, None),
    ),
)
BOTH = pytest.mark.parametrize(("draw", "data"), [(drying.draw, CHART), (moisture_plan.draw, PLAN)])


@functools.cache
def once(draw, data, fmt):
    """A drawing that several tests look at."""
    return draw(data, fmt)


def tree(draw, data):
    return ElementTree.fromstring(once(draw, data, "svg"))  # noqa: S314  # our own bytes


def by_id(draw, data, name):
    return next(each for each in tree(draw, data).iter() if each.get("id") == name)


def all_four():
    return [
        draw(data, fmt) for draw, data in ((drying.draw, CHART), (moisture_plan.draw, PLAN)) for fmt in ("svg", "png")
    ]


def ids(draw, data, start):
    return [each.get("id") for each in tree(draw, data).iter() if (each.get("id") or "").startswith(start)]


def pixels(draw, data):
    return np.asarray(Image.open(io.BytesIO(once(draw, data, "png"))).convert("RGB")).astype(int)


def alone_at(mc_pct, kind="value", **options):
    """A plan with one station in the middle of the roof."""
    return replace(PLAN, stations=(PlanStation(1, "roof", 4500, 1250, mc_pct, kind),), **options)


@BOTH
def test_the_svg_says_what_it_shows_and_holds_nothing_that_acts_or_is_styled_inline(draw, data):
    root = tree(draw, data)

    names = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert root.get("role") == "img"
    assert root[0].tag == f"{SVG}title"
    assert root[0].text == data.title
    assert root[1].tag == f"{SVG}desc"
    assert "19 %" in root[1].text
    assert names <= {"svg", "title", "desc", "g", "path", "defs", "use", "clipPath", "rect", "pattern"}
    attributes = {name for element in root.iter() for name in element.keys()}  # noqa: SIM118  # an element is no dict
    assert not {name for name in attributes if name == "style" or name.startswith("on")}


@BOTH
def test_every_reference_within_the_svg_leads_somewhere(draw, data):
    svg = once(draw, data, "svg").decode()

    wanted = set(re.findall(r'url\(#([^)]+)\)|href="#([^"]+)"', svg))
    there = set(re.findall(r' id="([^"]+)"', svg))
    assert wanted
    assert {one or other for one, other in wanted} <= there


@BOTH
def test_no_letter_is_left_to_the_fonts_of_the_reader(draw, data):
    svg = once(draw, data, "svg")

    assert b"<text" not in svg
    assert b"font-family" not in svg


@BOTH
def test_the_png_is_whole_and_1200_pixels_wide_on_paper(draw, data):
    png = once(draw, data, "png")

    Image.open(io.BytesIO(png)).verify()
    image = Image.open(io.BytesIO(png)).convert("RGB")
    assert image.width == 1200
    assert image.getpixel((2, 2)) == (0xFB, 0xF7, 0xEF)
    assert image.height / 1200 == pytest.approx(
        float(tree(draw, data).get("viewBox").split()[3]) / figure.WIDTH_PT, abs=0.002
    )


@BOTH
@pytest.mark.parametrize("fmt", ["svg", "png"])
def test_no_date_of_drawing_is_kept(draw, data, fmt):
    drawn = once(draw, data, fmt)

    assert b"dc:date" not in drawn
    assert b"matplotlib" not in drawn.lower()
    assert datetime.now(UTC).strftime("%Y-%m-%dT").encode() not in drawn


def test_eight_threads_draw_the_same_bytes_as_one():
    tasks = [(drying.draw, CHART, "svg"), (moisture_plan.draw, PLAN, "svg"), (drying.draw, CHART, "png")]
    alone = [draw(data, fmt) for draw, data, fmt in tasks]

    with ThreadPoolExecutor(8) as threads:
        drawn = list(threads.map(lambda task: task[0](task[1], task[2]), tasks * 4))

    assert drawn == alone * 4


def test_another_process_draws_the_same_bytes():
    program = (
        "import hashlib\n"
        "from tests.unit.jobs.test_charts import all_four\n"
        "print(hashlib.sha256(b''.join(all_four())).hexdigest())\n"
    )
    environment = {"PYTHONHASHSEED": "77", "HOME": str(Path.home()), "TZ": "Asia/Tokyo"}

    there = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
    )

    assert there.stdout.strip() == hashlib.sha256(b"".join(all_four())).hexdigest()


@BOTH
def test_another_format_is_refused(draw, data):
    with pytest.raises(ValueError, match="fmt must be 'svg' or 'png'"):
        draw(data, "gif")


def test_the_inks_are_those_of_the_pages():
    css = (ROOT / "static/css/tokens.css").read_text(encoding="utf-8")
    tokens = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", css))

    names = ("paper", "paper-bright", "ink", "ink-soft", "edge", "rule", "copper")
    assert {name: getattr(figure, name.upper().replace("-", "_")) for name in names} == {
        name: tokens[name] for name in names
    }


@pytest.mark.parametrize("name", ["<b>$x$ & \x07 “roof”</b>", "Łódź, дуб", "🙂 beam\nnext line", "$\\frac{1}{0}$", ""])
def test_any_name_of_a_station_can_be_drawn(name):
    root = tree(drying.draw, replace(CHART, station=name))

    assert root[0].text == f"Drying of {figure.clean(name)}".strip()


def test_letters_that_no_font_has_become_question_marks():
    assert figure.clean("beam 🙂\n\t two") == "beam ? two"


def test_a_very_long_name_keeps_within_the_sheet():
    lines = figure.wrap("inner panel behind the wardrobe " * 20, 400, size=20, lines=2, head=True)

    assert len(lines) == 2
    assert lines[1].endswith("…")
    assert all(figure.text_width_pt(line, 20, bold=True, head=True) <= 400 for line in lines)


# Drying charts


@pytest.mark.parametrize("count", [0, 1, 2, 60])
def test_every_reading_is_drawn_once(count):
    chart = replace(CHART, readings=tuple(ReadingMark(hours(number), 30) for number in range(count)))

    assert len(ids(drying.draw, chart, "reading-")) == count


def test_readings_beyond_the_scale_have_shapes_of_their_own():
    kinds = ("value", "low", "high")
    chart = replace(CHART, readings=tuple(ReadingMark(hours(24 * n), 30, kind) for n, kind in enumerate(kinds)))

    marks = [by_id(drying.draw, chart, f"reading-{number}").find(f".//{SVG}use") for number in (1, 2, 3)]
    assert len({mark.get("{http://www.w3.org/1999/xlink}href") for mark in marks}) == 3


def test_the_curve_is_solid_up_to_now_and_dashed_with_its_band_after():
    fitted, forecast = (by_id(drying.draw, CHART, name).find(f"{SVG}path") for name in ("fitted", "forecast"))

    assert fitted.get("stroke-dasharray") is None
    assert forecast.get("stroke-dasharray")
    assert ids(drying.draw, CHART, "band") == ["band"]
    end_of_fit = re.findall(r"[\d.]+", fitted.get("d"))[-2:]
    start_of_forecast = re.findall(r"[\d.]+", forecast.get("d"))[:2]
    assert end_of_fit == start_of_forecast


def test_a_curve_that_goes_on_is_cut_off_at_the_edge_of_the_plot():
    chart = replace(CHART, curve=a_curve(900))

    lines = [by_id(drying.draw, chart, name).find(f"{SVG}path") for name in ("forecast", "band")]

    clips = [by_id(drying.draw, chart, line.get("clip-path")[5:-1]).find(f"{SVG}rect") for line in lines]
    assert [float(clip.get("x")) + float(clip.get("width")) for clip in clips] == pytest.approx([drying.PLOT_RIGHT] * 2)
    assert [float(clip.get("height")) for clip in clips] == pytest.approx([drying.PLOT_HEIGHT] * 2)


def test_without_a_forecast_there_is_no_band_and_no_date():
    chart = replace(CHART, curve=a_curve(72), dry_even_at=None, dry_safe_at=None)

    drawn = [each.get("id") for each in tree(drying.draw, chart).iter()]
    assert "fitted" in drawn
    assert not {"forecast", "band", "dry-even", "dry-safe"} & set(drawn)


def test_limit_air_now_and_both_dates_are_marked():
    drawn = {each.get("id") for each in tree(drying.draw, CHART).iter()}

    assert {"limit", "equilibrium", "now", "dry-even", "dry-safe"} <= drawn


def test_each_stretch_of_drying_is_drawn_and_what_is_over_before_the_plot_is_not():
    spans = (*CHART.dryers, DryerSpan(hours(-900), hours(-800), "1 heater"))

    assert ids(drying.draw, replace(CHART, dryers=spans), "dryer-") == ["dryer-1-1", "dryer-2-1"]


def day_places(start_at, days):
    """Where the chart names each day, in points from the left, by the shop's date."""
    chart = DryingChart(
        "Station 2", (ReadingMark(start_at, 30),), start_at + timedelta(days=days), 19, "America/Chicago"
    )
    places = {}
    for each in tree(drying.draw, chart).iter():
        if found := re.fullmatch(r"day-(\d{4}-\d\d-\d\d)-0", each.get("id") or ""):
            places[found[1]] = float(re.search(r"translate\(([\d.]+)", each.find(f"{SVG}g").get("transform"))[1])
    return places


@pytest.mark.parametrize(
    ("start_at", "days", "changed_h"),
    [
        (datetime(2026, 10, 31, 8, tzinfo=CHICAGO), ("2026-11-01", "2026-11-02", "2026-11-03"), 25),
        (datetime(2026, 3, 7, 8, tzinfo=CHICAGO), ("2026-03-08", "2026-03-09", "2026-03-10"), 23),
    ],
)
def test_the_day_of_a_clock_change_is_as_wide_as_it_is_long(start_at, days, changed_h):
    places = [day_places(start_at.astimezone(UTC), 3.4)[day] for day in days]

    assert (places[1] - places[0]) / (places[2] - places[1]) == pytest.approx(changed_h / 24, rel=1e-3)


@pytest.mark.parametrize("zone", ["America/Havana", "Australia/Lord_Howe", "Asia/Kathmandu", "Pacific/Apia"])
@pytest.mark.parametrize("month", [3, 4, 10, 11])
def test_a_month_in_any_zone_can_be_drawn(zone, month):
    start_at = datetime(2026, month, 1, tzinfo=UTC)
    chart = DryingChart("Station 2", (ReadingMark(start_at, 30),), start_at + timedelta(days=30), 19, zone)

    assert len(ids(drying.draw, chart, "day-")) >= 6


def test_the_words_give_first_and_latest_reading_limit_and_dates():
    assert chart_words(CHART) == (
        "Station 3, framing, spruce first read 38.1 % on Fri, Nov 20, and the latest of 4 readings was 25.2 % on "
        "Mon, Nov 23, 9 AM. The close-in limit is 19 %; the wood should be under it by Wed, Nov 25, 10 PM with even "
        "odds and Sat, Nov 28 with 80 % odds."
    )


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ((), "Station 3, framing, spruce has not been read yet."),
        ((ReadingMark(hours(0), 40, "high"),), "read over 40 % on Fri, Nov 20."),
        (
            (ReadingMark(hours(72), 6, "low"), ReadingMark(hours(0), 40, "high")),
            "the latest of 2 readings was under 6 %",
        ),
    ],
)
def test_the_words_know_few_readings_and_those_beyond_the_scale(readings, said):
    words = chart_words(replace(CHART, readings=readings, dry_even_at=None, dry_safe_at=None))

    assert said in words
    assert words.endswith("The close-in limit is 19 %; there is no date for it yet.")


def test_an_hour_is_named_only_where_it_is_near():
    assert CHART.day_words(NOW) == "Mon, Nov 23, 1 PM"
    assert CHART.day_words(NOW + timedelta(days=4)) == "Fri, Nov 27"


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: ReadingMark(datetime(2026, 1, 1), 20), "at must have a time zone"),  # noqa: DTZ001
        (lambda: ReadingMark(NOW, float("nan")), "mc_pct must be 0 to 1000"),
        (lambda: ReadingMark(NOW, 20, "wet"), "kind must be"),
        (lambda: CurvePoint(NOW, 20, 19, 21), "must rise"),
        (lambda: DryerSpan(NOW, hours(0), "2 blowers"), "end_at must not be before"),
        (lambda: replace(CHART, time_zone="Mars/Base"), "time_zone must name a time zone"),
        (lambda: replace(CHART, time_zone="../etc"), "time_zone must name a time zone"),
        (lambda: replace(CHART, limit_pct=-1), "limit_pct must be 0 to 1000"),
        (lambda: replace(CHART, curve=CHART.curve[::-1]), "curve must have rising times"),
        (lambda: replace(PLAN, faces=()), "faces must not be empty"),
        (lambda: replace(PLAN, limit_pct=50), "limit_pct must be above 0 and at most 26"),
        (lambda: alone_at(20, faces=FACES[1:]), "face of station 1 must be one of the faces"),
        (
            lambda: replace(PLAN, stations=(PlanStation(7, "roof", 9100, 0, 20),)),
            "left_mm of station 7 must be 0 to 9000",
        ),
        (lambda: PlanStation(1, "roof", 0, 0, 2000), "mc_pct must be 0 to 1000"),
        (lambda: PlanStation(1, "roof", 0, 0, 20, "wet"), "kind must be"),
    ],
)
def test_what_cannot_be_is_refused(make, message):
    with pytest.raises(ValueError, match=message):
        make()


# Moisture plans


@pytest.mark.parametrize("count", [0, 1, 24])
def test_every_station_is_drawn_once(count):
    stations = tuple(PlanStation(n + 1, "roof", 300.0 * n, 700, 20 + n) for n in range(count))

    assert len(ids(moisture_plan.draw, replace(PLAN, stations=stations), "station-")) == count


@pytest.mark.parametrize(("mc_pct", "number"), [(19, 0), (23, 1), (30, 2), (40, 3), (40.1, 4)])
def test_a_lone_station_is_hatched_by_its_class(mc_pct, number):
    assert ids(moisture_plan.draw, alone_at(mc_pct), "class-") == [f"class-{number}-roof-0"]


def test_a_station_beyond_the_scale_counts_as_over_its_end():
    assert ids(moisture_plan.draw, alone_at(40, "high"), "class-") == ["class-4-roof-0"]
    assert ids(moisture_plan.draw, alone_at(6, "low"), "class-") == ["class-0-roof-0"]


def test_between_wet_and_dry_every_class_is_drawn():
    stations = (PlanStation(1, "roof", 4000, 1250, 60), PlanStation(2, "roof", 4500, 1250, 12))

    classes = {name.split("-")[1] for name in ids(moisture_plan.draw, replace(PLAN, stations=stations), "class-")}

    assert classes == {"0", "1", "2", "3", "4"}


def test_wetter_prints_darker_without_any_colour():
    greys = []
    for mc_pct in (15, 21, 28, 35, 50):
        top, left = spot_px(alone_at(mc_pct))
        above_the_dot = pixels(moisture_plan.draw, alone_at(mc_pct))[top - 70 : top - 35, left - 40 : left + 40]
        greys.append(above_the_dot.mean())

    steps = -np.diff(greys)
    assert (steps > 5).all()


def spot_px(plan):
    """Row and column of the first station's dot in the PNG."""
    dot = next(each for each in tree(moisture_plan.draw, plan).iter() if each.get("id") == "station-1").find(
        f".//{SVG}use"
    )
    return round(float(dot.get("y")) / 72 * 200), round(float(dot.get("x")) / 72 * 200)


def test_what_no_station_is_near_stays_blank():
    picture = pixels(moisture_plan.draw, alone_at(50))
    top, left = spot_px(alone_at(50))
    px_per_mm = (figure.WIDTH_PT - 2 * figure.MARGIN_PT) / 9000 / 72 * 200

    within = picture[top - round(500 * px_per_mm), left]
    row = picture[top - 40, left + round(700 * px_per_mm) : left + round(4300 * px_per_mm)]

    assert within.max() < 0xE0
    assert (row == (0xFF, 0xFD, 0xF8)).all()


def test_a_station_not_read_vouches_for_nothing():
    assert ids(moisture_plan.draw, alone_at(None), "class-") == []
    assert ids(moisture_plan.draw, alone_at(None), "station-") == ["station-1"]


@pytest.mark.parametrize("reach_mm", [300, 600, 1000])
def test_a_lone_station_vouches_for_a_circle_of_its_reach(reach_mm):
    outline = by_id(moisture_plan.draw, alone_at(50, reach_mm=reach_mm), "class-4-roof-0").find(f"{SVG}path").get("d")

    across, down = np.array(re.findall(r"[\d.]+", outline), dtype=float).reshape(-1, 2).T

    pt_per_mm = (figure.WIDTH_PT - 2 * figure.MARGIN_PT) / 9000
    assert np.ptp(across) / pt_per_mm == pytest.approx(2 * reach_mm, abs=2 * moisture_plan_data.CELL_MM + 1)
    assert np.ptp(down) / pt_per_mm == pytest.approx(2 * reach_mm, abs=2 * moisture_plan_data.CELL_MM + 1)


def test_a_station_does_not_reach_into_the_next_face():
    plan = replace(PLAN, stations=(PlanStation(1, "roof", 4500, 0, 50),))

    assert {name.split("-")[2] for name in ids(moisture_plan.draw, plan, "class-")} == {"roof"}


def test_the_plan_in_words_counts_and_names_the_wettest_and_the_gaps():
    assert plan_words(PLAN) == (
        "Moisture of the framing, Mon, Nov 23, 9:10 AM: 3 of 4 stations read, 2 of them above the close-in limit of "
        "19 %. The wettest is station 1 on the roof at 44 %. Nothing was measured on: front wall, rear wall, road side "
        "wall, curb side wall."
    )


def test_a_plan_without_readings_says_so():
    words = plan_words(replace(PLAN, stations=()))

    assert "0 of 0 stations read; the close-in limit is 19 %." in words
    assert all(face.name in words for face in FACES)


# Labels


@given(st.lists(st.floats(min_value=50, max_value=348), min_size=3, max_size=3))
@settings(max_examples=40, deadline=None)
def test_words_of_flags_never_cover_each_other(places):
    words = ("now", "even odds dry Wed, Nov 25, 10 PM", "safely dry Sat, Nov 28")
    flags = [Flag(text, text, x, 1.0) for text, x in zip(words, places, strict=True)]

    placed = place_flags(flags, 12, 420)

    boxes = [
        (each.left, each.row, each.left + figure.text_width_pt(each.words, bold=True), each.row + 1) for each in placed
    ]
    assert not any_overlap(boxes)
    assert all(box[0] >= 12 and box[2] <= 420 for box in boxes)


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["2 blowers", "1 heater", "3 dehumidifiers"]),
            st.floats(min_value=50, max_value=340),
            st.floats(min_value=1, max_value=200),
        ),
        max_size=12,
    )
)
@settings(deadline=None)
def test_bars_and_their_words_never_meet(spans):
    pieces = sorted(((words, x, min(x + width, 348)) for words, x, width in spans), key=lambda piece: piece[1])

    bars = place_bars(pieces, 12, 420)

    assert not any_overlap([(bar.span[0], bar.lane, bar.span[1], bar.lane + 1) for bar in bars])
    assert sum(len(bar.pieces) for bar in bars) == len(pieces)


@given(st.lists(st.tuples(st.floats(min_value=12, max_value=420), st.floats(min_value=90, max_value=600)), max_size=12))
@settings(deadline=None)
def test_tags_of_a_dozen_stations_never_cover_each_other(places):
    tags = place_tags([(place, 38.0) for place in places], (2, 80, 430, 620))

    dots = [(tag.dot[0] - 9, tag.dot[1] - 9, tag.dot[0] + 9, tag.dot[1] + 9) for tag in tags]
    assert not any_overlap([*dots, *(tag.words for tag in tags)])
    assert [tag.spot for tag in tags] == places


def any_overlap(boxes):
    """Whether two boxes (left, top, right, bottom) share more than a hair."""
    return any(
        min(one[2], other[2]) - max(one[0], other[0]) > 1e-3 and min(one[3], other[3]) - max(one[1], other[1]) > 1e-3
        for number, one in enumerate(boxes)
        for other in boxes[:number]
    )


@given(*[st.floats(min_value=0, max_value=200)] * 2)
def test_two_labels_at_the_right_keep_apart_and_in_order(one, other):
    first, second = spread([one, other], 34, 6, 188)

    assert abs(first - second) >= 34 - 1e-9
    assert (first <= second) == (one <= other)
    assert min(first, second) >= 6
    assert max(first, second) <= 188
