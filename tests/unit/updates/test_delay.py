"""Why a coach is late, in words for its owner: plain, adding up, and silent about everybody else."""

from datetime import date, timedelta
from itertools import product

import pytest
import textstat

from estimates.models import DateChange
from tests.unit.updates.test_compose import COMMON, HARDEST_GRADE, NOT_OUR_READERS_WORDS, added_counts, grade_of
from updates.compose.delay import CAUSE_WORDS, cause_words, compose_delay
from updates.compose.facts import CauseFacts, DelayFacts
from updates.compose.kinds import KIND_WORDS
from updates.compose.work import again_words

PROMISED = date(2026, 12, 8)
PLACE = "the roof, near the front on the road side"


def delay(*causes, is_past=False):
    days = sum(cause.days for cause in causes)
    return compose_delay(COMMON, DelayFacts(PROMISED, PROMISED + timedelta(days=days), causes, is_past))


def test_every_cause_that_can_be_stored_has_words():
    stored = set(DateChange.Cause.values) - {DateChange.Cause.FIRST_PLAN}  # a first plan moves no date

    assert set(CAUSE_WORDS) == stored | {"promise", "turn"}


def test_every_cause_reads_at_grade_eight_or_lower():
    texts = [cause_words(CauseFacts(cause, days)) for cause, days in product(CAUSE_WORDS, (3, -2))]
    texts += [
        cause_words(CauseFacts(cause, days, kind, PLACE))
        for cause, days, kind in product(("finding", "answer"), (3, -2), KIND_WORDS)
    ]
    texts += [again_words("Bond the skin", why, is_done=done) for why in ("", "glue line is open") for done in (0, 1)]
    # A sentence of a few words swings with one long word, so each is graded among those that always stand around it.
    frame = [*delay(CauseFacts("work", 1)).opening, *delay(CauseFacts("work", 1)).closing]

    worst = max(texts, key=lambda text: grade_of(*added_counts([*frame, text])))

    assert grade_of(*added_counts([*frame, worst])) <= HARDEST_GRADE, worst
    assert textstat.flesch_kincaid_grade(" ".join(texts)) <= HARDEST_GRADE
    assert [text for text in texts if NOT_OUR_READERS_WORDS.search(text)] == []


@pytest.mark.parametrize("is_past", [True, False])
def test_it_says_how_late_why_and_that_it_is_no_promise(is_past):
    told = delay(CauseFacts("finding", 4, "mould", PLACE), CauseFacts("other_coach", -1), is_past=is_past)

    assert "Friday, December 11, 2026" in told.opening[0]
    assert told.opening[1] == "That is 3 days later than the date we gave you."
    assert ("sorry" in told.opening[2], "has passed" in told.opening[2]) == (True, is_past)
    assert told.causes == (
        (f"We found more damage. This is about: mould ({PLACE}).", "4 days later"),
        ("Work on other coaches here is done sooner.", "1 day sooner"),
    )
    assert told.sum_words == "3 days later"
    assert "It is not a new promise" in told.closing[0]


def test_without_causes_the_owner_is_asked_to_call():
    told = compose_delay(COMMON, DelayFacts(PROMISED, PROMISED + timedelta(days=2), ()))

    assert "Please call us at 555 0100 and we will tell you why." in told.closing


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        (DelayFacts(PROMISED, PROMISED, ()), "after promised_on"),
        (DelayFacts(PROMISED, PROMISED + timedelta(days=3), (CauseFacts("work", 2),)), "add up to 3 days"),
        (DelayFacts(PROMISED, PROMISED + timedelta(days=3), (CauseFacts("rain", 3),)), "'rain'"),
    ],
)
def test_what_does_not_add_up_or_has_no_words_is_refused(facts, words):
    with pytest.raises(ValueError, match=words):
        compose_delay(COMMON, facts)


def test_work_done_again_says_why_and_that_it_costs_nothing():
    assert again_words("Bond the skin", "glue line is open", is_done=True) == (
        "We checked “Bond the skin” and were not happy with it, so we did it again. "
        "What was wrong: Glue line is open. You pay nothing for that."
    )
