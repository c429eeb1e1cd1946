"""Where a job stands, in one word, from a few facts about it."""

from dataclasses import dataclass
from enum import StrEnum

OPEN_UP, FINAL_CHECK = 1, 6  # the first and the last phase of work


class Stage(StrEnum):
    BOOKED = "booked"
    CHECKED_IN = "checked in"
    OPENING_UP = "opening up"
    IN_WORK = "in work"
    DRYING = "drying"
    WAITING_FOR_OWNER = "waiting for the owner"
    FINAL_CHECKS = "final checks"
    READY = "ready to collect"
    COLLECTED = "collected"


@dataclass(frozen=True)
class StageFacts:
    """What the stage depends on.

    running_phases: phases (1 to 6) of the labour that is running.
    unfinished_phases: phases of all operations not finished, running ones too.
    """

    is_arrived: bool
    is_collected: bool
    has_agreed_work: bool
    has_begun: bool
    running_phases: frozenset[int]
    is_wait_running: bool
    unfinished_phases: frozenset[int]
    is_check_open: bool
    is_question_open: bool


def stage_of(facts: StageFacts) -> Stage:
    """The stage of a job. What hands do now comes before what stands still; a question to the owner
    names the stage only when nothing runs.

    Raises ValueError if a phase is not 1 to 6.
    """
    for phase in facts.running_phases | facts.unfinished_phases:
        if not OPEN_UP <= phase <= FINAL_CHECK:
            raise ValueError(f"phases must be 1 to 6, got {phase!r}")
    if facts.is_collected:
        return Stage.COLLECTED
    if not facts.is_arrived:
        return Stage.BOOKED
    if facts.running_phases:
        return _labour_stage(facts.running_phases)
    return _quiet_stage(facts)


def _labour_stage(phases: frozenset[int]) -> Stage:
    if phases == {OPEN_UP}:
        return Stage.OPENING_UP
    if phases == {FINAL_CHECK}:
        return Stage.FINAL_CHECKS
    return Stage.IN_WORK


def _quiet_stage(facts: StageFacts) -> Stage:
    """The stage of a coach at the shop that nobody works on right now."""
    if facts.is_wait_running:
        return Stage.DRYING
    if facts.is_question_open:
        return Stage.WAITING_FOR_OWNER
    if not facts.has_agreed_work or not facts.has_begun:
        return Stage.CHECKED_IN
    if facts.unfinished_phases:
        return _labour_stage(facts.unfinished_phases)
    return Stage.FINAL_CHECKS if facts.is_check_open else Stage.READY
