"""The drawing of the board: bays down, days across. Geometry only: frozen values in, shapes out.

Every mark has a place and a form of its own, so that the drawing reads in black and white: what has been is
outlined, what is to come is hatched, waits are dotted, the promised day carries a flag, the expected end a post.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

DAY_PX = 42.0
HEAD_PX = 50.0
DAYS_TOP_PX = 18.0  # below the names of the months
BAY_PX = 82.0
LANE_PX = 40.0
LANES_PAD_PX = 8.0
# From the top of a band or lane: the foot of the label, then the bar, with room for the pennant between.
LABEL_PX = 16.0
BAR_TOP_PX = 32.0
LANE_LABEL_PX = 13.0
LANE_BAR_TOP_PX = 25.0
BAR_PX = 26.0
THIN_BAR_PX = 10.0
PAST_DAYS = 5
SHORTEST_DAYS = 30
LONGEST_DAYS = 120
# A label letter of the board's font at its size, measured on the screen: wide enough for all but a row of Ws.
LETTER_PX = 7.6
GAP_PX = 6.0
ROOM_FOR_WORDS_PX = 90.0


@dataclass(frozen=True)
class Stay:
    """A coach's time in a bay, or outside on a thin lane."""

    job_id: int
    page: str  # of its job
    number: int
    coach: str
    words: str  # the whole story of the bar, for a screen reader
    from_at: datetime
    until_at: datetime
    expected_at: datetime | None = None
    promised_on: date | None = None
    over_days: int = 0
    waits: tuple[tuple[datetime, datetime], ...] = ()


@dataclass(frozen=True)
class Band:
    """A row of the board: a bay, or the coaches that stand in none (`is_lanes`: one lane a coach)."""

    name: str
    note: str
    stays: tuple[Stay, ...]
    is_lanes: bool = False


@dataclass(frozen=True)
class Shape:
    x: float
    y: float
    width: float
    height: float

    @property
    def path(self) -> str:
        return f"M{self.x:.2f} {self.y:.2f}h{self.width:.2f}v{self.height:.2f}h-{self.width:.2f}z"


@dataclass(frozen=True)
class Line:
    x1: float
    x2: float
    y: float

    @property
    def path(self) -> str:
        return f"M{self.x1:.2f} {self.y:.2f}H{self.x2:.2f}"


@dataclass(frozen=True)
class Mark:
    """A flag or a post: an upright with a drawn end."""

    x: float
    top: float
    bottom: float
    path: str

    @property
    def upright(self) -> str:
        return f"M{self.x:.2f} {self.top:.2f}V{self.bottom:.2f}"


@dataclass(frozen=True)
class Overrun:
    """The line from the promised flag to the expected post."""

    line: Line
    words: str
    words_x: float
    words_y: float
    anchor: str


@dataclass(frozen=True)
class Bar:
    stay: Stay
    past: Shape | None
    ahead: Shape | None
    waits: tuple[Shape, ...]
    whole: Shape
    notch: str | None  # path: the bar began before the first day drawn
    label: str
    label_x: float
    label_y: float
    tail: Line | None  # from leaving the bay to being ready
    flag: Mark | None
    post: Mark | None
    overrun: Overrun | None


@dataclass(frozen=True)
class BandRow:
    band: Band
    y: float
    height: float
    name_y: float
    note_y: float
    bars: tuple[Bar, ...]


@dataclass(frozen=True)
class DayMark:
    on: date
    x: float
    middle_x: float
    month_x: float
    is_closed: bool
    is_today: bool
    month: str  # only where a month begins on the board
    weekday: str  # Wed


@dataclass(frozen=True)
class Chart:
    width: float
    height: float
    head: float
    days: tuple[DayMark, ...]
    today_x: float
    rows: tuple[BandRow, ...]
    day_width: float = DAY_PX
    more_on: date | None = None  # something lies beyond the last day drawn

    @property
    def day_lines(self) -> str:
        """Where days begin, but for those that begin a month."""
        begins = (f"M{day.x:.2f} {DAYS_TOP_PX:.2f}V{self.height:.2f}" for day in self.days if not day.month)
        return " ".join(begins)

    @property
    def month_lines(self) -> str:
        return " ".join(f"M{day.x:.2f} 0V{self.height:.2f}" for day in self.days if day.month)

    @property
    def closed_days(self) -> str:
        closed = (Shape(day.x, self.head, self.day_width, self.height) for day in self.days if day.is_closed)
        return " ".join(shape.path for shape in closed)


@dataclass(frozen=True)
class _Axis:
    first_on: date
    days: int
    zone: ZoneInfo
    width: float = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "width", self.days * DAY_PX)

    def x(self, at: datetime) -> float:
        """Across by the shop's own clock: every day is equally wide, the two with a clock change too."""
        local = at.astimezone(self.zone)
        return self.x_of_day(local.date()) + (local.hour + local.minute / 60) / 24 * DAY_PX

    def x_of_day(self, on: date) -> float:
        return (on - self.first_on).days * DAY_PX

    def has(self, x: float) -> bool:
        return 0 <= x <= self.width


def draw_chart(bands: Sequence[Band], *, now: datetime, time_zone: str, closed: frozenset[date]) -> Chart:
    """Lay the bands out under one axis of days.

    now: aware, the line between what has been and what is to come. closed: days without work, lightly ruled.
    Raises ValueError if a stay ends before it begins.
    """
    stays = [stay for band in bands for stay in band.stays]
    for stay in stays:
        if stay.until_at < stay.from_at:
            raise ValueError(f"until_at must not lie before from_at, got {stay.until_at} for job {stay.number}")
    axis = _axis(stays, now, ZoneInfo(time_zone))
    rows = tuple(_rows(bands, axis, now))
    height = rows[-1].y + rows[-1].height if rows else HEAD_PX
    last_on = axis.first_on + timedelta(days=axis.days - 1)
    ends = [_last_day(stay, axis.zone) for stay in stays]
    return Chart(
        width=axis.width,
        height=height,
        head=HEAD_PX,
        days=tuple(_day_marks(axis, closed, now.astimezone(axis.zone).date())),
        today_x=round(axis.x(now), 1),
        rows=rows,
        more_on=last_on if any(end > last_on for end in ends) else None,
    )


def days_on_board(stays_until: Iterable[date], today: date) -> tuple[date, int]:
    """The first day of the board and how many it shows."""
    first_on = today - timedelta(days=PAST_DAYS)
    last_on = max([*stays_until, today]) + timedelta(days=2)
    return first_on, min(LONGEST_DAYS, max(SHORTEST_DAYS, (last_on - first_on).days + 1))


def _axis(stays: Sequence[Stay], now: datetime, zone: ZoneInfo) -> _Axis:
    first_on, days = days_on_board((_last_day(stay, zone) for stay in stays), now.astimezone(zone).date())
    return _Axis(first_on, days, zone)


def _last_day(stay: Stay, zone: ZoneInfo) -> date:
    ends = [stay.until_at.astimezone(zone).date()]
    if stay.expected_at:
        ends.append(stay.expected_at.astimezone(zone).date())
    if stay.promised_on:
        ends.append(stay.promised_on)
    return max(ends)


def _day_marks(axis: _Axis, closed: frozenset[date], today: date) -> Iterable[DayMark]:
    for number in range(axis.days):
        on = axis.first_on + timedelta(days=number)
        x = number * DAY_PX
        month = f"{on:%B %Y}" if number == 0 or on.day == 1 else ""
        if number == 0 and on.day > 26:
            month = ""  # the next month's name stands a few days on
        yield DayMark(on, x, x + DAY_PX / 2, x + 4, on in closed, on == today, month, f"{on:%a}")


def _rows(bands: Sequence[Band], axis: _Axis, now: datetime) -> Iterable[BandRow]:
    y = HEAD_PX
    for band in bands:
        height = LANES_PAD_PX + LANE_PX * max(1, len(band.stays)) if band.is_lanes else BAY_PX
        yield BandRow(
            band=band,
            y=y,
            height=height,
            name_y=y + 22,
            note_y=y + 40,
            bars=tuple(_lanes(band, axis, now, y) if band.is_lanes else _bay_bars(band, axis, now, y)),
        )
        y += height


def _bay_bars(band: Band, axis: _Axis, now: datetime, y: float) -> Iterable[Bar]:
    stays = sorted(band.stays, key=lambda stay: stay.from_at)
    starts = [axis.x(stay.from_at) for stay in stays] + [axis.width]
    for number, stay in enumerate(stays):
        if starts[number] < axis.width:
            x = _label_x(stay, axis, now)
            label = _fitted(stay, starts[number + 1] - x)
            yield _bar(stay, axis, now, y + BAR_TOP_PX, BAR_PX, (x, y + LABEL_PX), label)


def _lanes(band: Band, axis: _Axis, now: datetime, y: float) -> Iterable[Bar]:
    for lane, stay in enumerate(sorted(band.stays, key=lambda stay: (stay.from_at, stay.number))):
        if axis.x(stay.from_at) < axis.width:
            x, top = _label_x(stay, axis, now), y + LANES_PAD_PX / 2 + lane * LANE_PX
            label = _fitted(stay, axis.width - x)
            if stay.over_days > 0:
                label += f", {_over_words(stay)}"
            yield _bar(stay, axis, now, top + LANE_BAR_TOP_PX, THIN_BAR_PX, (x, top + LANE_LABEL_PX), label)


def _bar(
    stay: Stay, axis: _Axis, now: datetime, top: float, thickness: float, label_at: tuple[float, float], label: str
) -> Bar:
    whole = _span(axis, stay.from_at, stay.until_at, top, thickness) or Shape(max(0.0, axis.x(now)), top, 1, thickness)
    bottom = top + thickness
    flag_x = axis.x_of_day(stay.promised_on + timedelta(days=1)) if stay.promised_on else None
    post_x = axis.x(stay.expected_at) if stay.expected_at else None
    return Bar(
        stay=stay,
        past=_span(axis, stay.from_at, min(stay.until_at, now), top, thickness),
        ahead=_span(axis, max(stay.from_at, now), stay.until_at, top, thickness),
        waits=tuple(_wait_shapes(stay, axis, top, thickness)),
        whole=whole,
        notch=f"M0 {top:.1f}l8 {thickness / 2:.1f}l-8 {thickness / 2:.1f}z" if axis.x(stay.from_at) < 0 else None,
        label=label,
        label_x=label_at[0],
        label_y=label_at[1],
        tail=_tail(stay, axis, top + thickness / 2),
        flag=_flag(axis, flag_x, top, bottom),
        post=_post(axis, post_x, top, bottom),
        overrun=_overrun(stay, axis, flag_x, post_x, bottom) if thickness == BAR_PX else None,
    )


def _label_x(stay: Stay, axis: _Axis, now: datetime) -> float:
    """Where the bar begins, but near today when it began long ago: that is the part people look at."""
    left, right = axis.x(stay.from_at), axis.x(stay.until_at)
    return max(0.0, left, min(axis.x(now) - DAY_PX, right - DAY_PX)) + 2


def _fitted(stay: Stay, room: float) -> str:
    """The label cut to its room: the number first, then as much of the coach's name as fits."""
    label = f"{stay.number} {stay.coach}"
    letters = int((room - GAP_PX) / LETTER_PX)
    if len(label) <= letters:
        return label
    if letters < len(str(stay.number)) + 4:
        return str(stay.number)
    return label[: letters - 1].rstrip() + "…"


def _span(axis: _Axis, from_at: datetime, until_at: datetime, top: float, thickness: float) -> Shape | None:
    """The part of a span that lies on the board; never thinner than a hair."""
    if until_at < from_at:
        return None
    left, right = max(0.0, axis.x(from_at)), min(axis.width, axis.x(until_at))
    if right < 0 or left > axis.width or right <= left:
        return None
    return Shape(left, top, max(1.0, right - left), thickness)


def _wait_shapes(stay: Stay, axis: _Axis, top: float, thickness: float) -> Iterable[Shape]:
    for begin, end in stay.waits:
        begin, end = max(begin, stay.from_at), min(end, stay.until_at)
        if shape := _span(axis, begin, end, top, thickness):
            yield shape


def _tail(stay: Stay, axis: _Axis, y: float) -> Line | None:
    if stay.expected_at is None or stay.expected_at <= stay.until_at:
        return None
    shape = _span(axis, stay.until_at, stay.expected_at, y, 0)
    return Line(shape.x, shape.x + shape.width, y) if shape else None


def _flag(axis: _Axis, x: float | None, top: float, bottom: float) -> Mark | None:
    """The promised day: a pennant at the day's end, flying back toward the work."""
    if x is None or not axis.has(x):
        return None
    return Mark(x, top - 8, bottom + 4, f"M{x:.1f} {top - 8:.1f}l-11 4.5l11 4.5z")


def _post(axis: _Axis, x: float | None, top: float, bottom: float) -> Mark | None:
    """The expected end: an upright on a foot."""
    if x is None or not axis.has(x):
        return None
    return Mark(x, top - 3, bottom + 4, f"M{x - 5:.1f} {bottom + 4:.1f}h10")


def _overrun(stay: Stay, axis: _Axis, flag_x: float | None, post_x: float | None, bottom: float) -> Overrun | None:
    if stay.over_days <= 0 or flag_x is None or post_x is None:
        return None
    left, right = max(0.0, flag_x), min(axis.width, post_x)
    if right <= left:
        return None
    has_room = right > ROOM_FOR_WORDS_PX
    return Overrun(
        line=Line(left, right, bottom + 8),
        words=_over_words(stay),
        words_x=right if has_room else left,
        words_y=bottom + 20,
        anchor="end" if has_room else "start",
    )


def _over_words(stay: Stay) -> str:
    return f"{stay.over_days} {'day' if stay.over_days == 1 else 'days'} over"


def closed_days(
    shifts: Iterable[tuple[datetime, datetime]], first_on: date, days: int, zone: ZoneInfo
) -> frozenset[date]:
    """The days of the board on which the shop does not work, from its shifts."""
    worked = {begin.astimezone(zone).date() for begin, _ in shifts}
    return frozenset(on for on in (first_on + timedelta(days=n) for n in range(days)) if on not in worked)


def midnight(on: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(on, time.min, tzinfo=zone)
