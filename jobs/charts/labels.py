"""Where words go so that none covers another: flags on moments, bars with words, legends, tags beside spots. [pt]"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jobs.charts.figure import MARGIN_PT, WIDTH_PT, Box, Point, text_width_pt

Numbers = NDArray[np.float64]

GAP_PT: Final = 4.0
FARTHEST_PT: Final = 24.0
LEGEND_GAP_PT: Final = 14.0
SWATCH_PT: Final = 32.0
# Half the width of a numbered dot and of a bare spot.
DOT_PT: Final = 9.0
SPOT_PT: Final = 3.0
TAG_HEIGHT_PT: Final = 15.0
# What each side of a dot, in the order of `_sides`, costs against an edge crossed [pt2].
SIDE_COSTS: Final = (0.0, 1.0, 2.0, 3.0, 50.0, 50.0)
# How far from its spot a dot may go, nearest first.
TAG_STEPS_PT: Final = (0.0, 16.0, 24.0, 34.0, 46.0, 60.0, 80.0, 105.0, 135.0, 170.0)


@dataclass(frozen=True)
class Flag:
    """A moment marked by a line at x, with words in a row above the plot. Row 0 is the topmost."""

    gid: str
    words: str
    x: float
    weight: float
    is_bold: bool = True
    left: float = 0.0
    row: int = 0


@dataclass(frozen=True)
class Bar:
    """Stretches of time (each x, end_x, rising) with the same words, written once, in a lane of their own."""

    words: str
    pieces: tuple[tuple[float, float], ...]
    words_x: float = 0.0
    lane: int = 0

    @property
    def span(self) -> tuple[float, float]:
        """From where to where it takes up its lane."""
        start, end = self.pieces[0][0], self.pieces[-1][1]
        return min(start, self.words_x), max(end, self.words_x + text_width_pt(self.words))


@dataclass(frozen=True)
class Entry:
    """A mark explained in a legend."""

    kind: str
    words: str
    x: float = 0.0
    row: int = 0


@dataclass(frozen=True)
class Tag:
    """A numbered dot for a spot, moved off it where it is crowded, with words on one side of the dot."""

    spot: Point
    dot: Point
    words: Box

    @property
    def is_moved(self) -> bool:
        return self.dot != self.spot


def place_flags(flags: Sequence[Flag], left: float, right: float) -> list[Flag]:
    """Flags with a row and a side for their words, so that no words are crossed or covered. At most three flags.

    All ways are tried; the one with the least covered comes out, then the one with the fewest rows. Only where words
    beside their own line would be crossed are places beside the other lines tried as well.
    """
    widths = [text_width_pt(flag.words, bold=flag.is_bold) + 2 for flag in flags]
    best = _best_flags(flags, widths, (left, right), beside_any=False)
    if _flag_cost(best, widths)[0] > 0:
        best = _best_flags(flags, widths, (left, right), beside_any=True)
    return best


def place_bars(pieces: Iterable[tuple[str, float, float]], left: float, right: float) -> list[Bar]:
    """Stretches (words, x, end_x; by rising x) as bars in lanes, none meeting another bar or its words.

    What says the same and does not overlap is one bar. Its words stand in its widest piece, else after it, else
    before it.
    """
    placed: list[Bar] = []
    for bar in _joined(pieces):
        there = replace(bar, words_x=_words_x(bar, left, right))
        busy = {other.lane for other in placed if _meet(there, other)}
        lane = next(lane for lane in range(len(placed) + 1) if lane not in busy)
        placed.append(replace(there, lane=lane))
    return placed


def place_legend(entries: Sequence[Entry], columns: int = 0) -> list[Entry]:
    """Entries down so many columns of one width, or (0) in rows, each after the other as they fit."""
    placed: list[Entry] = []
    x, row = MARGIN_PT, 0
    rows = -(-len(entries) // columns) if columns else 0
    for number, entry in enumerate(entries):
        if columns:
            column, row = divmod(number, rows)
            x = MARGIN_PT + column * (WIDTH_PT - 2 * MARGIN_PT) / columns
        width = SWATCH_PT + text_width_pt(entry.words)
        if not columns and x > MARGIN_PT and x + width > WIDTH_PT - MARGIN_PT / 2:
            x, row = MARGIN_PT, row + 1
        placed.append(replace(entry, x=x, row=row))
        x += width + LEGEND_GAP_PT
    return placed


def spread(heights: Sequence[float], apart: float, top: float, bottom: float) -> list[float]:
    """Heights of up to two labels moved as little as needed to lie within top and bottom and `apart` each."""
    moved = [min(max(height, top), bottom) for height in heights]
    if len(moved) == 2 and abs(moved[0] - moved[1]) < apart:
        is_first_upper = heights[0] <= heights[1]
        upper = min(max(sum(moved) / 2 - apart / 2, top), bottom - apart)
        moved = [upper, upper + apart] if is_first_upper else [upper + apart, upper]
    return moved


def place_tags(
    spots: Sequence[tuple[Point, float]], within: Box, *, taken: Sequence[Box] = (), edges: Sequence[Box] = ()
) -> list[Tag]:
    """A tag for each spot (place, width of its words), none over another, another's spot or what is taken.

    A dot stays on its spot if it can; else it goes as near as there is room. Its words stand where they cross the
    least of the edges. Where there is no room at all within the box, a tag covers as little as possible.
    """
    tags: dict[int, Tag] = {}
    middle = np.mean([spot for spot, _ in spots], axis=0) if spots else (0.0, 0.0)
    # From the outside in, so that tags of a crowd step outward without crossing others.
    order = sorted(range(len(spots)), key=lambda at: -math.dist(spots[at][0], middle))
    for number, at in enumerate(order):
        ahead = [spots[later][0] for later in order[number + 1 :]]
        behind = [tag.spot for tag in tags.values() if tag.is_moved]
        busy = [*taken, *(box for tag in tags.values() for box in (_square(tag.dot, DOT_PT), tag.words))]
        busy += [_square(place, SPOT_PT) for place in (*ahead, *behind)]
        # Words keep clear of a dot to come; that dot itself may still step aside for another dot.
        words_busy = [*busy, *(_square(place, DOT_PT) for place in ahead)]
        tags[at] = _best_tag(*spots[at], _Room(within, _boxes(busy), _boxes(words_busy), _boxes(edges)))
    return [tags[at] for at in range(len(spots))]


@dataclass(frozen=True)
class _Room:
    """What a tag has to keep clear of; boxes as rows of an array."""

    within: Box
    busy: Numbers
    words_busy: Numbers
    edges: Numbers


def _best_tag(spot: Point, width: float, room: _Room) -> Tag:
    best, least = Tag(spot, spot, (*spot, *spot)), math.inf
    for steps in TAG_STEPS_PT:
        dots = _around(spot, steps)
        squares = np.hstack([dots - DOT_PT, dots + DOT_PT])
        own = _boxes([_square(spot, SPOT_PT)] if steps else [])
        words = _sides(dots, width)
        dot_cost = _covered(squares, room.busy) + _covered(squares, own) + _outside(squares, room.within)
        cost = np.repeat(dot_cost, len(SIDE_COSTS)) + _covered(words, room.words_busy) + _outside(words, room.within)
        looks = _covered(words, room.edges) + np.tile(SIDE_COSTS, len(dots))
        first = np.lexsort((looks, cost.round(6)))[0]
        if cost[first] < least - 1e-6:
            x, y = dots[first // len(SIDE_COSTS)]
            left, top, right, bottom = words[first]
            best, least = Tag(spot, (float(x), float(y)), (left, top, right, bottom)), cost[first]
        if least < 1e-6:
            break
    return best


def _around(spot: Point, steps: float) -> Numbers:
    turns = np.arange(16 if steps else 1) * math.pi / 8
    return np.array(spot) + steps * np.column_stack([np.cos(turns), np.sin(turns)])


def _sides(dots: Numbers, width: float) -> Numbers:
    """For each dot in turn the boxes of words right, left, below, above, and below to the right and to the left."""
    high, half = TAG_HEIGHT_PT, TAG_HEIGHT_PT / 2
    sides = [
        (DOT_PT, -half, DOT_PT + width, half),
        (-DOT_PT - width, -half, -DOT_PT, half),
        (-width / 2, DOT_PT, width / 2, DOT_PT + high),
        (-width / 2, -DOT_PT - high, width / 2, -DOT_PT),
        (-DOT_PT, DOT_PT, width - DOT_PT, DOT_PT + high),
        (DOT_PT - width, DOT_PT, DOT_PT, DOT_PT + high),
    ]
    boxes: Numbers = (np.hstack([dots, dots])[:, None, :] + np.array(sides)).reshape(-1, 4)
    return boxes


def _square(middle: Point, half: float) -> Box:
    return (middle[0] - half, middle[1] - half, middle[0] + half, middle[1] + half)


def _boxes(boxes: Sequence[Box]) -> Numbers:
    return np.array(boxes, dtype=float).reshape(-1, 4)


def _covered(boxes: Numbers, others: Numbers) -> Numbers:
    """For each box the area it shares with the others [pt2]."""
    one, other = boxes[:, None, :], others[None, :, :]
    across = np.minimum(one[..., 2], other[..., 2]) - np.maximum(one[..., 0], other[..., 0])
    down = np.minimum(one[..., 3], other[..., 3]) - np.maximum(one[..., 1], other[..., 1])
    shared: Numbers = (across.clip(0) * down.clip(0)).sum(axis=1)
    return shared


def _outside(boxes: Numbers, within: Box) -> Numbers:
    """The area of each box beyond another, made to weigh more than what tags may cover of each other."""
    area = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    return 100 * (area - _covered(boxes, _boxes([within])))


def _best_flags(
    flags: Sequence[Flag], widths: Sequence[float], ends: tuple[float, float], *, beside_any: bool
) -> list[Flag]:
    def choices(flag: Flag, width: float) -> list[Flag]:
        lines = [other.x for other in flags] if beside_any else [flag.x]
        own = (flag.x + GAP_PT, flag.x - GAP_PT - width)
        starts = {start for x in lines for start in (x + GAP_PT, x - GAP_PT - width)}
        # Farther from its own line, people would read it with another.
        starts = {start for start in starts if min(abs(start - each) for each in own) <= FARTHEST_PT}
        within = sorted({min(max(start, ends[0]), ends[1] - width) for start in starts})
        return [replace(flag, row=row, left=start) for row, start in product(range(len(flags)), within)]

    ways = product(*(choices(flag, width) for flag, width in zip(flags, widths, strict=True)))
    return min(map(list, ways), key=lambda way: _flag_cost(way, widths))


def _flag_cost(way: Sequence[Flag], widths: Sequence[float]) -> tuple[float, int, float]:
    covered = moved = 0.0
    for index, (flag, width) in enumerate(zip(way, widths, strict=True)):
        start, end = flag.left, flag.left + width
        moved += min(abs(start - flag.x), abs(end - flag.x))
        for other, (line, other_width) in enumerate(zip(way, widths, strict=True)):
            # A line runs from its own row down through all rows below.
            if line.row <= flag.row and start < line.x < end:
                covered += 10
            if other > index and line.row == flag.row:
                covered += max(0.0, min(end, line.left + other_width) + GAP_PT - max(start, line.left))
    return covered, max(flag.row for flag in way), moved


def _joined(pieces: Iterable[tuple[str, float, float]]) -> list[Bar]:
    bars: list[Bar] = []
    for words, x, end_x in pieces:
        same = (at for at, bar in enumerate(bars) if bar.words == words and bar.pieces[-1][1] <= x)
        at = next(same, None)
        if at is None:
            bars.append(Bar(words, ((x, end_x),)))
        else:
            bars[at] = replace(bars[at], pieces=(*bars[at].pieces, (x, end_x)))
    return bars


def _words_x(bar: Bar, left: float, right: float) -> float:
    width = text_width_pt(bar.words)
    widest = max(bar.pieces, key=lambda piece: piece[1] - piece[0])
    if width + 4 * GAP_PT <= widest[1] - widest[0]:
        return widest[0] + 2 * GAP_PT
    if bar.pieces[-1][1] + 2 * GAP_PT + width <= right:
        return bar.pieces[-1][1] + 2 * GAP_PT
    return max(left, bar.pieces[0][0] - 2 * GAP_PT - width)


def _meet(one: Bar, other: Bar) -> bool:
    return one.span[0] < other.span[1] + 2 * GAP_PT and other.span[0] < one.span[1] + 2 * GAP_PT
