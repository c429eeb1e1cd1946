"""The drawing of the board: where bars, flags and posts come to lie."""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.board.chart import DAY_PX, LONGEST_DAYS, PAST_DAYS, SHORTEST_DAYS, Band, Stay, closed_days, draw_chart

ZONE = "America/Chicago"
# Wednesday, March 4, noon at the shop.
NOW = datetime(2026, 3, 4, 18, 0, tzinfo=UTC)


def at(day, hour=0):
    return datetime(2026, 3, day, hour, tzinfo=ZoneInfo(ZONE))


def stay(**changes):
    given = {"job_id": 1, "page": "/manager/jobs/1/", "number": 101, "coach": "2011 Larkmoor Finch", "words": "Job 101"}
    return Stay(**given | {"from_at": at(2, 8), "until_at": at(6, 12)} | changes)


def draw(*stays, is_lanes=False, closed=frozenset()):
    return draw_chart([Band("Bay 1", "", stays, is_lanes)], now=NOW, time_zone=ZONE, closed=closed)


def bar_of(chart):
    return chart.rows[0].bars[0]


def test_the_board_begins_some_days_before_today_and_shows_a_month():
    chart = draw(stay())

    assert chart.days[0].on == date(2026, 3, 4) - timedelta(days=PAST_DAYS)
    assert len(chart.days) == SHORTEST_DAYS
    assert [day.on for day in chart.days if day.is_today] == [date(2026, 3, 4)]
    assert chart.today_x == pytest.approx((PAST_DAYS + 0.5) * DAY_PX)


def test_a_bar_is_split_at_now():
    bar = bar_of(draw(stay()))

    assert bar.past.x == pytest.approx((3 + 8 / 24) * DAY_PX)
    assert bar.past.x + bar.past.width == pytest.approx((PAST_DAYS + 0.5) * DAY_PX)
    assert bar.ahead.x == pytest.approx((PAST_DAYS + 0.5) * DAY_PX)
    assert bar.ahead.x + bar.ahead.width == pytest.approx((PAST_DAYS + 2.5) * DAY_PX)


def test_a_bar_that_lies_ahead_has_no_past_part():
    bar = bar_of(draw(stay(from_at=at(9), until_at=at(12))))

    assert bar.past is None
    assert bar.ahead.width == pytest.approx(3 * DAY_PX)


def test_a_bar_that_began_before_the_first_day_is_cut_and_says_so():
    bar = bar_of(draw(stay(from_at=at(2) - timedelta(days=30))))

    assert bar.whole.x == 0
    assert bar.notch


def test_the_flag_stands_at_the_end_of_the_promised_day_and_the_post_at_the_expected_hour():
    bar = bar_of(draw(stay(promised_on=date(2026, 3, 5), expected_at=at(6, 18), over_days=1)))

    assert bar.flag.x == pytest.approx((PAST_DAYS + 2) * DAY_PX)
    assert bar.post.x == pytest.approx((PAST_DAYS + 2.75) * DAY_PX)
    assert bar.tail.x2 == pytest.approx(bar.post.x)
    assert bar.overrun.words == "1 day over"
    assert (bar.overrun.line.x1, bar.overrun.line.x2) == pytest.approx((bar.flag.x, bar.post.x))


def test_a_promise_that_is_kept_draws_no_overrun():
    assert bar_of(draw(stay(promised_on=date(2026, 3, 9), expected_at=at(6, 18)))).overrun is None


def test_waits_are_drawn_inside_their_bar_only():
    bar = bar_of(draw(stay(waits=((at(5), at(6)), (at(6, 6), at(8)), (at(20), at(21))))))

    assert [shape.width for shape in bar.waits] == pytest.approx([DAY_PX, 0.25 * DAY_PX])


def test_a_day_with_a_clock_change_is_as_wide_as_any_other():
    chart = draw(stay(from_at=at(7, 12), until_at=at(9, 12)))

    assert bar_of(chart).whole.width == pytest.approx(2 * DAY_PX)


def test_each_day_has_one_line_where_it_begins_and_closed_days_are_ruled_over_their_whole_width():
    chart = draw(stay(from_at=at(2, 8), until_at=at(30)), closed=frozenset({date(2026, 3, 7), date(2026, 3, 8)}))

    lines = sorted(float(x) for x in re.findall(r"M([\d.]+) ", f"{chart.day_lines} {chart.month_lines}"))
    assert lines == [pytest.approx(day.x) for day in chart.days]
    # February 27 is the first day drawn; its month is not written, since March is two days on.
    assert [float(x) for x in re.findall(r"M([\d.]+) ", chart.month_lines)] == [2 * DAY_PX, 33 * DAY_PX]
    assert re.findall(r"M([\d.]+) \S+h([\d.]+)v", chart.closed_days) == [("336.00", "42.00"), ("378.00", "42.00")]
    assert [day.weekday for day in chart.days[:3]] == ["Fri", "Sat", "Sun"]


def test_two_coaches_in_one_bay_leave_each_other_room_for_their_names():
    chart = draw(stay(), stay(job_id=2, number=102, from_at=at(6, 18), until_at=at(12), coach="2005 Havenquill Estate"))

    first, second = chart.rows[0].bars

    assert first.label.startswith("101 20")
    assert first.label.endswith("…")
    assert second.label == "102 2005 Havenquill Estate"


def test_what_lies_beyond_the_longest_board_is_named():
    chart = draw(stay(until_at=at(6) + timedelta(days=300)))

    assert len(chart.days) == LONGEST_DAYS
    assert chart.more_on == chart.days[-1].on


def test_a_stay_that_ends_before_it_begins_is_refused():
    with pytest.raises(ValueError, match="job 101"):
        draw(stay(until_at=at(1)))


def test_days_without_a_shift_are_closed():
    shifts = [(at(2, 7), at(2, 16)), (at(4, 7), at(4, 16))]

    assert closed_days(shifts, date(2026, 3, 2), 4, ZoneInfo(ZONE)) == {date(2026, 3, 3), date(2026, 3, 5)}


@given(
    spans=st.lists(st.tuples(st.floats(-40, 150), st.floats(0, 60), st.integers(-20, 80)), max_size=8),
    is_lanes=st.booleans(),
)
def test_everything_is_drawn_inside_the_board(spans, is_lanes):
    stays = [
        stay(
            job_id=number,
            from_at=NOW + timedelta(days=begin),
            until_at=NOW + timedelta(days=begin + length),
            expected_at=NOW + timedelta(days=begin + length),
            promised_on=NOW.date() + timedelta(days=promise),
        )
        for number, (begin, length, promise) in enumerate(spans)
    ]

    chart = draw(*stays, is_lanes=is_lanes)

    for bar in chart.rows[0].bars:
        for shape in filter(None, [bar.past, bar.ahead, *bar.waits]):
            assert shape.x >= 0
            assert shape.x + shape.width <= chart.width + 1
            assert chart.head <= shape.y < shape.y + shape.height <= chart.height
        for mark in filter(None, [bar.flag, bar.post]):
            assert 0 <= mark.x <= chart.width
