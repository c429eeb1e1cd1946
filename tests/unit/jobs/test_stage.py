"""The stage of a job from a few facts."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.stage import Stage, StageFacts, stage_of

PHASES = st.frozensets(st.integers(1, 6))
AT_REST = StageFacts(
    is_arrived=True,
    is_collected=False,
    has_agreed_work=True,
    has_begun=True,
    running_phases=frozenset(),
    is_wait_running=False,
    unfinished_phases=frozenset(),
    is_check_open=False,
    is_question_open=False,
)


@pytest.mark.parametrize(
    ("changes", "stage"),
    [
        ({"is_arrived": False, "has_begun": False}, Stage.BOOKED),
        ({"has_begun": False, "unfinished_phases": frozenset({1, 6})}, Stage.CHECKED_IN),
        ({"has_agreed_work": False, "has_begun": False}, Stage.CHECKED_IN),
        ({"running_phases": frozenset({1}), "unfinished_phases": frozenset({1, 3})}, Stage.OPENING_UP),
        ({"unfinished_phases": frozenset({1})}, Stage.OPENING_UP),
        ({"running_phases": frozenset({1, 3}), "unfinished_phases": frozenset({1, 3})}, Stage.IN_WORK),
        ({"unfinished_phases": frozenset({3, 6})}, Stage.IN_WORK),
        ({"is_wait_running": True, "unfinished_phases": frozenset({2, 3})}, Stage.DRYING),
        ({"is_question_open": True, "unfinished_phases": frozenset({4})}, Stage.WAITING_FOR_OWNER),
        ({"is_question_open": True}, Stage.WAITING_FOR_OWNER),
        ({"unfinished_phases": frozenset({6})}, Stage.FINAL_CHECKS),
        ({"is_check_open": True}, Stage.FINAL_CHECKS),
        ({}, Stage.READY),
        ({"is_collected": True}, Stage.COLLECTED),
    ],
)
def test_a_job_at_the_shop_has_the_stage_that_its_facts_name(changes, stage):
    assert stage_of(replace(AT_REST, **changes)) == stage


def test_running_labour_names_the_stage_although_something_dries_and_the_owner_is_asked():
    facts = replace(AT_REST, running_phases=frozenset({3}), is_wait_running=True, is_question_open=True)

    assert stage_of(facts) == Stage.IN_WORK


@given(unfinished=PHASES, running=PHASES, is_check_open=st.booleans(), is_question_open=st.booleans())
def test_a_coach_is_only_ready_when_nothing_at_all_is_open(unfinished, running, is_check_open, is_question_open):
    facts = replace(
        AT_REST,
        unfinished_phases=unfinished | running,
        running_phases=running,
        is_check_open=is_check_open,
        is_question_open=is_question_open,
    )

    is_ready = stage_of(facts) == Stage.READY

    assert is_ready == (not unfinished and not running and not is_check_open and not is_question_open)


def test_a_phase_that_does_not_exist_is_refused():
    with pytest.raises(ValueError, match="1 to 6, got 7"):
        stage_of(replace(AT_REST, unfinished_phases=frozenset({7})))
