"""What an owner's answers to several open questions come to together: the ready date and the new total."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from estimates.billing import total_with
from estimates.models import JobAnswers
from jobs.models import Job
from updates.story import StoryFinding

# A longer table is no help on a phone; the form answers for any way by itself.
MOST_ROWS = 9

# Finding (primary key) -> remedy (primary key), or None for a no.
Picks = Mapping[int, int | None]


@dataclass(frozen=True)
class Way:
    """One way to answer. answers: to each question, in words."""

    answers: tuple[str, ...]
    ready_on: date
    total_usd: Decimal


@dataclass(frozen=True)
class Together:
    """All ways to answer a job's open questions that the plan has looked at."""

    job: Job
    questions: tuple[StoryFinding, ...]
    ready: Mapping[tuple[tuple[int, int | None], ...], date]

    @property
    def titles(self) -> list[str]:
        return [f"Finding {each.number}, {each.title}" for each in self.questions]

    @property
    def rows(self) -> list[Way]:
        """Every way, as long as that is a table to be read."""
        return [self._way(dict(picks)) for picks in self.ready] if len(self.ready) <= MOST_ROWS else []

    @property
    def labelled_rows(self) -> list[tuple[list[tuple[str, str]], Way]]:
        """Each way, with its answers beside their titles: on a phone the head of the table is not seen."""
        return [(list(zip(self.titles, way.answers, strict=True)), way) for way in self.rows]

    def way(self, picks: Picks) -> Way | None:
        """What this way comes to; None where the plan has not looked at it."""
        return self._way(picks) if _key(picks) in self.ready else None

    def _way(self, picks: Picks) -> Way:
        chosen = [
            question.offer.choice(remedy) | {"finding": finding}
            for finding, question, remedy in self._answers(picks)
            if remedy is not None and question.offer
        ]
        return Way(
            answers=tuple(_words(question, remedy) for _, question, remedy in self._answers(picks)),
            ready_on=self.ready[_key(picks)],
            total_usd=total_with(self.job, chosen),
        )

    def _answers(self, picks: Picks) -> list[tuple[int, StoryFinding, int | None]]:
        offered = [(question.offer.finding_id, question) for question in self.questions if question.offer]
        return [(finding, question, picks[finding]) for finding, question in offered]


def read_together(job: Job, questions: Sequence[StoryFinding]) -> Together | None:
    """None for fewer than two questions, and while the plan does not know just these."""
    answers = JobAnswers.objects.filter(job=job).first()
    findings = {question.offer.finding_id for question in questions if question.offer}
    if answers is None or len(findings) < len(questions):
        return None
    ready = {}
    for way in answers.ways:
        picks = {int(finding): remedy for finding, remedy in way["picks"].items()}
        if set(picks) != findings:
            return None
        ready[_key(picks)] = date.fromisoformat(way["ready_on"])
    return Together(job, tuple(questions), ready)


def _key(picks: Picks) -> tuple[tuple[int, int | None], ...]:
    return tuple(sorted(picks.items()))


def _words(question: StoryFinding, remedy: int | None) -> str:
    """A remedy by its number as the choices stand on the page."""
    if remedy is None:
        return "no"
    number = [choice.remedy_id for choice in question.choices].index(remedy) + 1
    return f"yes, number {number}" if len(question.choices) > 1 else "yes"
