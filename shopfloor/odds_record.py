"""How the shop's dates held, in words ready to print out."""

from dataclasses import dataclass
from datetime import datetime

from estimates.calc.backtest import EVEN, SAFE, Misses, Row, Scores, Share
from estimates.odds_record import AnswerRecord, read_answer_record, read_odds_record
from estimates.shop_spreads import FEWEST_ANSWERS
from jobs.models import Shop

MOMENTS = {
    "booking": "What was said at booking",
    "arrival": "What was said once the coach had arrived",
    "opening": "What was said once it was opened up",
}
WORDS = {EVEN: "even odds", SAFE: "four in five"}
VERDICTS = {
    "few": "Too few to tell",
    "fits": "That fits",
    "early": "Fewer than there should be, these dates come too early",
    "late": "More than there should be, these dates come later than they need to",
}


@dataclass(frozen=True)
class MissLine:
    """One kind of date: its costs in days, and how the coaches came beside it."""

    name: str
    misses: Misses

    @property
    def came(self) -> str:
        days = self.misses.mean_late_days
        if abs(days) < 0.05:
            return "on the day"
        return f"{abs(days):.1f} days {'later' if days > 0 else 'earlier'}"


@dataclass(frozen=True)
class MomentLine:
    title: str
    row: Row
    even: str
    safe: str
    misses: tuple[MissLine, ...]


@dataclass(frozen=True)
class RecordPage:
    moments: tuple[MomentLine, ...]
    answers: AnswerRecord
    answer_words: str


def read_record_page(shop: Shop, now: datetime) -> RecordPage:
    """All that the page shows, in a fixed number of queries."""
    answers = read_answer_record(shop, now)
    moments = tuple(_moment_line(row) for row in read_odds_record(shop, now) if row.even.of or row.scores)
    return RecordPage(moments, answers, _answer_words(answers))


def _moment_line(row: Row) -> MomentLine:
    weeks = f"What was said {row.weeks} week{'s' if row.weeks > 1 else ''} after it arrived"
    return MomentLine(
        title=MOMENTS.get(row.moment, weeks),
        row=row,
        even=_share_words(row.even),
        safe=_share_words(row.safe),
        misses=tuple(_miss_lines(row.scores)) if row.scores else (),
    )


def _share_words(share: Share) -> str:
    """A sentence or two on how many were ready, how many should be, and what that tells."""
    if not share.of:
        return "no coach’s date is over yet."
    low, high = (round(100 * each) for each in share.range)
    coaches = f"{share.of} coach{'' if share.of == 1 else 'es'}"
    ready = f"{share.ready or 'none'} {'was' if share.ready < 2 else 'were'} ready by it"
    should = f"{share.expected_ready:.1f}".removesuffix(".0")
    expected = f"at {WORDS[share.expected]} it would be {should}"
    verdict = f"{VERDICTS[share.verdict]}; in the long run it may be from {low} to {high} in a hundred."
    return f"of {coaches}, {ready}; {expected}. {verdict}"


def _miss_lines(scores: Scores) -> list[MissLine]:
    return [
        MissLine("Date at even odds", scores.even),
        MissLine("Safe date", scores.safe),
        MissLine("Date of the plan", scores.plan),
        MissLine("Promise then in force", scores.promise),
    ]


def _answer_words(record: AnswerRecord) -> str:
    """A sentence on how long owners take."""
    waiting = f" {_questions(record.waiting)} still open {'is' if record.waiting == 1 else 'are'}"
    still = f"{waiting} counted as longer waits than so far." if record.waiting else ""
    if record.in_time is None:
        few = f"Owners have answered {_questions(record.answered)} so far: too few to tell how long they take"
        return f"{few} (at least {FEWEST_ANSWERS} are needed).{still}"
    half = "More than half of the questions are still open."
    if record.median_days is not None:
        half = f"Half of the questions are answered within {_span(record.median_days)}."
    in_ten = f"{10 * record.in_time:.0f} in ten are answered by the time we ask for."
    return f"{half} {in_ten} That rests on {_questions(record.answered)} answered.{still}"


def _span(days: float) -> str:
    if days < 1:
        hours = max(1, round(24 * days))
        return f"{hours} hour{'' if hours == 1 else 's'}"
    return f"{days:.1f} days"


def _questions(number: int) -> str:
    return f"{number} question{'' if number == 1 else 's'}"
