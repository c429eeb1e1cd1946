"""One station's drying in a picture: its readings, the fitted curve, the forecast and the close-in limit."""

import math
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from jobs.charts.drying_data import CurvePoint, DryerSpan, DryingChart, Format, ReadingMark, chart_words, utc
from jobs.charts.figure import (
    COPPER,
    EDGE,
    INK,
    INK_SOFT,
    MARGIN_PT,
    PAPER,
    PAPER_BRIGHT,
    RULE,
    TITLE_PT,
    WIDTH_PT,
    Point,
    Sheet,
    print_sheet,
    shorten,
    text_width_pt,
    wrap,
)
from jobs.charts.labels import Entry, Flag, place_bars, place_flags, place_legend, spread

__all__ = ["CurvePoint", "DryerSpan", "DryingChart", "ReadingMark", "chart_words", "draw"]

PLOT_LEFT: Final = 50.0
PLOT_RIGHT: Final = WIDTH_PT - 84.0
PLOT_HEIGHT: Final = 190.0
ROW_PT: Final = 19.0
LANE_PT: Final = 22.0
MANY_READINGS: Final = 30
DAY: Final = timedelta(days=1)
SHORTEST_SPAN: Final = timedelta(hours=36)
DAY_STEPS: Final = (1, 2, 3, 7, 14, 28, 56, 112, 224)
MC_STEPS: Final = (5, 10, 20, 50)
MOST_MC_STEPS: Final = 6
DASHES: Final = (0, (5, 2.5))
DOTS: Final = (0, (1, 2.4))


def draw(chart: DryingChart, fmt: Format) -> bytes:
    """The chart as SVG or PNG (1200 px wide): the same drawing for page, mail and paper."""
    layout = _Layout(chart)
    return print_sheet(
        layout.paint,
        width_pt=WIDTH_PT,
        height_pt=layout.height_pt,
        fmt=fmt,
        title=chart.title,
        words=chart_words(chart),
    )


class _Layout:
    """Where everything of one chart goes [pt], worked out before anything is drawn."""

    def __init__(self, chart: DryingChart) -> None:
        self.chart = chart
        self.start_at, self.end_at = _time_range(chart)
        self.bottom_pct, self.top_pct, self.step_pct = _mc_range(chart, self.end_at)
        self.is_crowded = len(chart.readings) > MANY_READINGS
        self.title_lines = wrap(chart.station, WIDTH_PT - 2 * MARGIN_PT, size=TITLE_PT, lines=2, head=True)
        self.flags = place_flags(self._flags(), MARGIN_PT, WIDTH_PT - MARGIN_PT)
        self.bars = place_bars(self._pieces(), MARGIN_PT, WIDTH_PT - MARGIN_PT)
        self.legend = place_legend(list(_legend_entries(chart)))
        self.flags_top = MARGIN_PT + 25.0 * len(self.title_lines) + 26.0
        self.plot_top = self.flags_top + ROW_PT * (1 + max(flag.row for flag in self.flags)) + 2.0
        self.plot_bottom = self.plot_top + PLOT_HEIGHT
        self.bars_top = self.plot_bottom + 42.0
        lanes = 1 + max((bar.lane for bar in self.bars), default=-1)
        self.legend_top = self.bars_top + LANE_PT * lanes + (8.0 if lanes else 0.0)
        self.height_pt = self.legend_top + ROW_PT * (1 + max(entry.row for entry in self.legend)) + MARGIN_PT

    def x(self, at: datetime) -> float:
        return PLOT_LEFT + (PLOT_RIGHT - PLOT_LEFT) * ((utc(at) - self.start_at) / (self.end_at - self.start_at))

    def y(self, mc_pct: float) -> float:
        return self.plot_bottom - PLOT_HEIGHT * (mc_pct - self.bottom_pct) / (self.top_pct - self.bottom_pct)

    def paint(self, sheet: Sheet) -> None:
        self._paint_heading(sheet)
        self._paint_axes(sheet)
        self._paint_days(sheet)
        self._paint_levels(sheet)
        self._paint_curve(sheet)
        self._paint_readings(sheet)
        self._paint_flags(sheet)
        self._paint_bars(sheet)
        self._paint_legend(sheet)

    def _paint_heading(self, sheet: Sheet) -> None:
        for number, line in enumerate(self.title_lines):
            sheet.text((MARGIN_PT, MARGIN_PT + 17 + 25 * number), line, size=TITLE_PT, bold=True, head=True)
        below = MARGIN_PT + 25 * len(self.title_lines) + 13
        sheet.text((MARGIN_PT, below), "moisture of the wood, % of its dry weight", colour=INK_SOFT)

    def _paint_axes(self, sheet: Sheet) -> None:
        width, height = PLOT_RIGHT - PLOT_LEFT, PLOT_HEIGHT
        sheet.box(PLOT_LEFT, self.plot_top, width, height, facecolor=PAPER_BRIGHT, edgecolor="none", zorder=0)
        for mc_pct in range(math.ceil(self.bottom_pct), math.floor(self.top_pct) + 1):
            if mc_pct % self.step_pct == 0:
                y = self.y(mc_pct)
                sheet.line([(PLOT_LEFT, y), (PLOT_RIGHT, y)], colour=RULE, width=0.5, zorder=1)
                sheet.text((PLOT_LEFT - 5, y), f"{mc_pct} %", align="right", middle=True, colour=INK_SOFT)
        corner = (PLOT_LEFT, self.plot_bottom)
        sheet.line([(PLOT_LEFT, self.plot_top), corner, (PLOT_RIGHT, self.plot_bottom)], zorder=3)

    def _paint_days(self, sheet: Sheet) -> None:
        days, step = self._days()
        for number, (day, at) in enumerate(days):
            x, is_named = self.x(at), number % step == 0
            sheet.line([(x, self.plot_bottom), (x, self.plot_bottom + (14 if is_named else 4))], width=0.8, zorder=3)
            lines = (f"{day:%a}", f"{day:%b} {day.day}")
            if is_named and x + 4 + max(map(text_width_pt, lines)) <= WIDTH_PT - 2:
                for row, line in enumerate(lines):
                    sheet.text((x + 4, self.plot_bottom + 15 + 16 * row), line, colour=INK_SOFT, gid=f"day-{day}-{row}")

    def _days(self) -> tuple[list[tuple[date, datetime]], int]:
        """The midnights on the shop's clock within the plot, and every how many of them is named."""
        zone = ZoneInfo(self.chart.time_zone)
        day, days = self.start_at.astimezone(zone).date(), []
        while (at := utc(datetime.combine(day, time(), zone))) < self.end_at:
            if at >= self.start_at:
                days.append((day, at))
            day += DAY
        day_pt = (PLOT_RIGHT - PLOT_LEFT) * (DAY / (self.end_at - self.start_at))
        return days, next((step for step in DAY_STEPS if step * day_pt >= text_width_pt("Mmm 00") + 8), DAY_STEPS[-1])

    def _paint_levels(self, sheet: Sheet) -> None:
        chart = self.chart
        levels = [(chart.limit_pct, ("close-in", f"limit {chart.limit_pct:.3g} %"))]
        sheet.line(self._across(chart.limit_pct), width=2.0, zorder=3, gid="limit")
        if chart.equilibrium_pct is not None:
            levels.append((chart.equilibrium_pct, ("this air", f"{chart.equilibrium_pct:.1f} %")))
            line = self._across(chart.equilibrium_pct)
            sheet.line(line, width=1.3, linestyle=DOTS, zorder=3, gid="equilibrium")
        heights = spread([self.y(mc_pct) for mc_pct, _ in levels], 34.0, self.plot_top + 6, self.plot_bottom - 12)
        for (mc_pct, words), y in zip(levels, heights, strict=True):
            sheet.line([(PLOT_RIGHT, self.y(mc_pct)), (PLOT_RIGHT + 5, y)], width=0.8, zorder=3)
            for row, line_words in enumerate(words):
                at = (PLOT_RIGHT + 7, y + 15 * row - 2)
                sheet.text(at, shorten(line_words, WIDTH_PT - PLOT_RIGHT - 8), bold=mc_pct == chart.limit_pct)

    def _across(self, mc_pct: float) -> list[Point]:
        return [(PLOT_LEFT, self.y(mc_pct)), (PLOT_RIGHT, self.y(mc_pct))]

    def _paint_curve(self, sheet: Sheet) -> None:
        plot = (PLOT_LEFT, self.plot_top, PLOT_RIGHT, self.plot_bottom)
        fitted, forecast = _split(self.chart.curve, self.chart.now)
        if len(forecast) > 1:
            upper = [(self.x(point.at), self.y(point.high_pct)) for point in forecast]
            lower = [(self.x(point.at), self.y(point.low_pct)) for point in forecast]
            style: dict[str, Any] = {"facecolor": "none", "hatch": "///", "edgecolor": RULE, "linewidth": 0.0}
            sheet.area(upper + lower[::-1], within=plot, zorder=2, gid="band", **style)
            for edge in (upper, lower):
                sheet.line(edge, colour=EDGE, width=0.7, within=plot, zorder=2)
        lines: list[tuple[list[CurvePoint], Any, str]] = [(fitted, "-", "fitted"), (forecast, DASHES, "forecast")]
        # Fifty readings would hide the curve that runs through them.
        above = 7 if self.is_crowded else 4
        for part, dashes, gid in lines:
            if len(part) > 1:
                points = [(self.x(point.at), self.y(point.median_pct)) for point in part]
                sheet.line(points, colour=COPPER, width=2.4, linestyle=dashes, within=plot, zorder=above, gid=gid)

    def _paint_readings(self, sheet: Sheet) -> None:
        size = 6.0 if self.is_crowded else 8.5
        for number, reading in enumerate(self.chart.readings, start=1):
            at = (self.x(reading.at), self.y(reading.mc_pct))
            sheet.line([at], zorder=6, gid=f"reading-{number}", **_mark(reading.kind, size))

    def _paint_flags(self, sheet: Sheet) -> None:
        for flag in self.flags:
            top = self.flags_top + ROW_PT * flag.row
            style: Any = DOTS if flag.gid == "now" else "-"
            line = [(flag.x, top + 2), (flag.x, self.plot_bottom)]
            sheet.line(line, width=flag.weight, linestyle=style, zorder=4, gid=flag.gid)
            # Where there is no other way, a line stops for words.
            width = text_width_pt(flag.words, bold=flag.is_bold)
            sheet.box(flag.left - 1, top + 2, width + 2, 15, facecolor=PAPER, edgecolor="none", zorder=4.5)
            sheet.text((flag.left, top + 14), flag.words, bold=flag.is_bold)

    def _flags(self) -> list[Flag]:
        chart = self.chart
        flags = [Flag("now", "now", self.x(chart.now), 1.2, is_bold=False)]
        if chart.dry_even_at:
            words = f"even odds dry {chart.day_words(chart.dry_even_at)}"
            flags.append(Flag("dry-even", words, self.x(chart.dry_even_at), 1.0))
        if chart.dry_safe_at:
            words = f"safely dry {chart.day_words(chart.dry_safe_at)}"
            flags.append(Flag("dry-safe", words, self.x(chart.dry_safe_at), 2.2))
        return flags

    def _pieces(self) -> Iterator[tuple[str, float, float]]:
        for span in sorted(self.chart.dryers, key=lambda each: (utc(each.start_at), each.words)):
            start_at = max(self.start_at, utc(span.start_at))
            # What still runs goes on past the end of the plot: its end is never seen.
            end_at = self.end_at + DAY if span.end_at is None else utc(span.end_at)
            if start_at < min(end_at, self.end_at):
                yield shorten(span.words, 150), self.x(start_at), min(self.x(end_at), PLOT_RIGHT + 1)

    def _paint_bars(self, sheet: Sheet) -> None:
        for number, bar in enumerate(self.bars, start=1):
            top = self.bars_top + LANE_PT * bar.lane
            style: dict[str, Any] = {"facecolor": "none", "edgecolor": INK_SOFT, "hatch": "\\\\\\", "linewidth": 1.0}
            within = (0.0, top, PLOT_RIGHT, top + LANE_PT)
            for index, (x, end_x) in enumerate(bar.pieces, start=1):
                sheet.box(x, top + 3, end_x - x, 14, within=within, gid=f"dryer-{number}-{index}", **style)
            width = text_width_pt(bar.words)
            sheet.box(bar.words_x - 3, top + 3.5, width + 6, 13.0, facecolor=PAPER, edgecolor="none", zorder=3)
            sheet.text((bar.words_x, top + 10), bar.words, middle=True)

    def _paint_legend(self, sheet: Sheet) -> None:
        for entry in self.legend:
            left, y = entry.x, self.legend_top + ROW_PT * entry.row + 10
            if entry.kind == "forecast":
                sheet.box(
                    left, y - 7, 26, 14, facecolor=PAPER_BRIGHT, hatch="///", edgecolor=RULE, linewidth=0.7, zorder=2
                )
            if entry.kind in ("fitted", "forecast"):
                dashes: Any = "-" if entry.kind == "fitted" else DASHES
                sheet.line([(left, y), (left + 26, y)], colour=COPPER, width=2.4, linestyle=dashes, zorder=4)
            elif entry.kind == "equilibrium":
                sheet.line([(left, y), (left + 26, y)], width=1.3, linestyle=DOTS)
            elif entry.kind in ("value", "low", "high"):
                sheet.line([(left + 13, y)], **_mark(entry.kind, 8.5))
            sheet.text((left + 32, y), entry.words, middle=True)


def _mark(kind: str, size: float) -> dict[str, Any]:
    """A dot for a value; an open arrowhead, pointing on, where the wood lies beyond the meter's scale."""
    shape = {"value": "o", "low": "v", "high": "^"}[kind]
    filled = INK if kind == "value" else PAPER_BRIGHT
    style = {"markerfacecolor": filled, "markeredgecolor": PAPER_BRIGHT if kind == "value" else INK}
    larger = size if kind == "value" else size * 1.25
    return {"linestyle": "none", "marker": shape, "markersize": larger, "markeredgewidth": 1.2, **style}


def _legend_entries(chart: DryingChart) -> Iterator[Entry]:
    kinds = {reading.kind for reading in chart.readings}
    fitted, forecast = _split(chart.curve, chart.now)
    entries = [
        ("value", "meter reading", "value" in kinds),
        ("high", "wetter than the meter shows", "high" in kinds),
        ("low", "drier than the meter shows", "low" in kinds),
        ("fitted", "fitted curve", len(fitted) > 1),
        ("forecast", "forecast and its 80 % band", len(forecast) > 1),
        ("equilibrium", "as dry as this air gets it", chart.equilibrium_pct is not None),
        ("none", "not read yet", not chart.readings),
    ]
    return (Entry(kind, words) for kind, words, is_there in entries if is_there)


def _split(curve: Sequence[CurvePoint], now: datetime) -> tuple[list[CurvePoint], list[CurvePoint]]:
    """The curve up to now, and from now on; they meet at now."""
    fitted = [point for point in curve if point.at <= now]
    forecast = [point for point in curve if point.at > now]
    if fitted and forecast:
        before, after = fitted[-1], forecast[0]
        share = (utc(now) - utc(before.at)) / (utc(after.at) - utc(before.at))
        ends = ("low_pct", "median_pct", "high_pct")
        low, median, high = (getattr(before, e) + share * (getattr(after, e) - getattr(before, e)) for e in ends)
        here = CurvePoint(now, min(low, median), median, max(high, median))
        fitted, forecast = [*fitted, here], [here, *forecast]
    return fitted, forecast


def _time_range(chart: DryingChart) -> tuple[datetime, datetime]:
    """First and last moment of the plot in UTC: from the first reading to the safe date, or all of the curve."""
    dates = [at for at in (chart.dry_even_at, chart.dry_safe_at) if at is not None]
    shown = [chart.now, *dates, *(reading.at for reading in chart.readings)]
    if chart.dry_safe_at is None:
        shown += [point.at for point in chart.curve]
    start_at, end_at = min(map(utc, shown)), max(map(utc, shown))
    missing = max(SHORTEST_SPAN - (end_at - start_at), timedelta())
    span = end_at - start_at + missing
    return start_at - missing / 2 - span * 0.03, end_at + missing / 2 + span * 0.05


def _mc_range(chart: DryingChart, end_at: datetime) -> tuple[float, float, int]:
    """Bottom and top of the plot [% of dry mass] and the step of its scale."""
    _, forecast = _split(chart.curve, chart.now)
    shown = [chart.limit_pct, *(reading.mc_pct for reading in chart.readings)]
    shown += [point.median_pct for point in chart.curve if point.at <= end_at]
    shown += [end for point in forecast if point.at <= end_at for end in (point.low_pct, point.high_pct)]
    if chart.equilibrium_pct is not None:
        shown.append(chart.equilibrium_pct)
    bottom = 5 if min(shown) >= 7 else 0
    top = max(shown) + 0.08 * (max(shown) - bottom)
    step = next((step for step in MC_STEPS if (top - bottom) / step <= MOST_MC_STEPS), 200)
    return bottom, max(top, bottom + 10), step
