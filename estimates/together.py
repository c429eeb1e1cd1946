"""What the answers to several open questions come to together: ready date, new total, other coaches they move."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Protocol

from estimates.billing import JobBill, read_bill
from estimates.calc.adding_up import apart_words
from estimates.models import JobAnswers, Offer, OfferedChoice
from estimates.moved_coaches import MovedCoach, jobs_of, moved_coaches
from jobs.models import Job

# A longer table is no help on a phone; the form answers for any way by itself.
MOST_ROWS = 9

# Finding (primary key) -> remedy (primary key), or None for a no.
Picks = Mapping[int, int | None]
Key = tuple[tuple[int, int | None], ...]


class Question(Protocol):
    """An open question as a page shows it."""

    @property
    def number(self) -> int: ...
    @property
    def title(self) -> str: ...
    @property
    def offer(self) -> Offer | None: ...
    @property
    def choices(self) -> Sequence[OfferedChoice]: ...


@dataclass(frozen=True)
class Way:
    """One way to answer. answers: to each question, in words. others: coaches it moves, against a no to all.

    apart: why the total is not what the agreed work and the prices add up to, in words; empty where it is.
    """

    answers: tuple[str, ...]
    ready_on: date
    total_usd: Decimal
    apart: str = ""
    others: tuple[MovedCoach, ...] = ()


@dataclass(frozen=True)
class Together:
    """All ways to answer a job's open questions that the plan has looked at.

    others: by way, the other coaches it moves; empty for an owner, who never reads of them.
    """

    questions: tuple[Question, ...]
    ready: Mapping[Key, date]
    bill: JobBill
    others: Mapping[Key, tuple[MovedCoach, ...]] = field(default_factory=dict)
    is_for_owner: bool = True

    @property
    def titles(self) -> list[str]:
        return [f"Finding {each.number}, {each.title}" for each in self.questions]

    @property
    def rows(self) -> list[Way]:
        """Every way; for an owner only as long as that is a table to be read."""
        if self.is_for_owner and len(self.ready) > MOST_ROWS:
            return []
        return [self._way(dict(picks)) for picks in self.ready]

    @property
    def labelled_rows(self) -> list[tuple[list[tuple[str, str]], Way]]:
        """Each way, with its answers beside their titles: on a phone the head of the table is not seen."""
        return [(list(zip(self.titles, way.answers, strict=True)), way) for way in self.rows]

    @property
    def moves_others(self) -> bool:
        return any(self.others.values())

    def way(self, picks: Picks) -> Way | None:
        """What this way comes to; None where the plan has not looked at it."""
        return self._way(picks) if _key(picks) in self.ready else None

    def _way(self, picks: Picks) -> Way:
        chosen = [
            (question.offer, remedy)
            for finding, question, remedy in self._answers(picks)
            if remedy is not None and question.offer
        ]
        total_usd = self.bill.total_with(
            offer.choice(remedy) | {"finding": offer.finding_id} for offer, remedy in chosen
        )
        prices = [Decimal(offer.choice(remedy)["totals"]["total_usd"]) for offer, remedy in chosen]
        return Way(
            answers=tuple(self._words(question, remedy) for _, question, remedy in self._answers(picks)),
            ready_on=self.ready[_key(picks)],
            total_usd=total_usd,
            apart=apart_words(total_usd, [self.bill.agreed_usd, *prices]),
            others=self.others.get(_key(picks), ()),
        )

    def _answers(self, picks: Picks) -> list[tuple[int, Question, int | None]]:
        offered = [(question.offer.finding_id, question) for question in self.questions if question.offer]
        return [(finding, question, picks[finding]) for finding, question in offered]

    def _words(self, question: Question, remedy: int | None) -> str:
        """For an owner a remedy by its number as the choices stand on the page, for the shop by its name."""
        if remedy is None:
            return "no"
        number, choice = next(
            (number, choice) for number, choice in enumerate(question.choices, start=1) if choice.remedy_id == remedy
        )
        if not self.is_for_owner:
            return f"yes, {choice.name}"
        return f"yes, number {number}" if len(question.choices) > 1 else "yes"


def read_together(job: Job, questions: Sequence[Question], *, is_for_owner: bool) -> Together | None:
    """None for fewer than two questions, and while the plan does not know just these. A fixed number of queries."""
    answers = JobAnswers.objects.filter(job=job).first() if len(questions) > 1 else None
    findings = {question.offer.finding_id for question in questions if question.offer}
    if answers is None or len(findings) < len(questions):
        return None
    ready, kept = {}, {}
    for way in answers.ways:
        picks = {int(finding): remedy for finding, remedy in way["picks"].items()}
        if set(picks) != findings:
            return None
        ready[_key(picks)], kept[_key(picks)] = date.fromisoformat(way["ready_on"]), way["others"]
    if is_for_owner:
        return Together(tuple(questions), ready, read_bill(job))
    jobs = jobs_of(kept.values())
    others = {key: moved_coaches(rows, jobs) for key, rows in kept.items()}
    return Together(tuple(questions), ready, read_bill(job), others, is_for_owner=False)


def _key(picks: Picks) -> Key:
    return tuple(sorted(picks.items()))
