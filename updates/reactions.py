"""How updates answers the journal: words to the owner, and their hand-over."""

from collections.abc import Callable
from datetime import timedelta

from estimates import kinds as estimate_kinds
from jobs import kinds
from jobs.calc.stage import Stage
from jobs.journal import Run, reaction
from jobs.models import ApprovalRequest, Decision, Job, JournalEntry, Owner, Station
from jobs.stages import stage_for
from updates import kinds as update_kinds
from updates.compose.booking import compose_booking
from updates.compose.decision import compose_decision
from updates.compose.drying import compose_drying
from updates.compose.facts import Common, DryingFacts
from updates.compose.finding import compose_changed_finding, compose_finding
from updates.compose.message import Message
from updates.compose.promise import compose_promise
from updates.compose.ready import compose_ready
from updates.compose.terms import compose_terms
from updates.facts import (
    booking_facts,
    common_facts,
    decision_facts,
    drying_facts,
    finding_facts,
    promise_facts,
    ready_facts,
    reasons_since_told,
    slowest_station,
)
from updates.gathering import BILL_CHANGES, GATHERED_FOR, bill_facts, untold_changes
from updates.models import Update
from updates.services import hand_over, write_updates

Family = Update.Family
A_DAY = timedelta(days=1)
# Less than a day, so that a round a little earlier than yesterday's still counts as the next day's.
MOST_OF_A_DAY = timedelta(hours=18)


@reaction("ask the owner", kinds.OWNER_ASKED)
def on_owner_asked(entry: JournalEntry, run: Run) -> None:
    """Put the finding to everyone who may decide, unless it has been settled meanwhile.

    Whoever was told of another proposal before is told that it changed, and why, in the same message.
    """
    request = ApprovalRequest.objects.select_related(
        "finding__job__coach", "finding__job__shop", "remedy__standard"
    ).get(pk=entry.data["request"])
    with run.finish():
        if request.closed_at:
            return
        found, offered = finding_facts(request)
        if reasons := reasons_since_told(entry):
            _tell(entry, Family.FINDING, run, lambda common: compose_changed_finding(common, found, offered, reasons))
            return
        _tell(entry, Family.FINDING, run, lambda common: compose_finding(common, [(found, offered)]))


@reaction("confirm to the owner", estimate_kinds.SCOPE_PLANNED)
def on_scope_planned(entry: JournalEntry, run: Run) -> None:
    """Confirm an answer, or the booking, once the date that goes with it is planned."""
    decision_id = entry.data["decision"]
    with run.finish():
        if entry.data["term"] is not None:
            return  # told with what else changes on the bill
        if decision_id is None:
            booked = booking_facts(entry.job)
            _tell(entry, Family.BOOKED, run, lambda common: compose_booking(common, booked))
            return
        decision = Decision.objects.select_related(
            "request__finding__job__coach", "request__finding__job__shop", "request__remedy__standard"
        ).get(pk=decision_id)
        decided = decision_facts(decision, entry.data["revision"])
        _tell(entry, Family.DECIDED, run, lambda common: compose_decision(common, decided))


@reaction("tell the owner what changed on the bill", *BILL_CHANGES, after=GATHERED_FOR)
def on_bill_changed(entry: JournalEntry, run: Run) -> None:
    """Tell all changes since the last message of this family at once, with the figures that hold now.

    The first of them to be due tells the others as well; these find themselves told.
    """
    with run.finish():
        job = Job.objects.select_for_update(of=("self",)).get(pk=entry.job_id)
        untold = untold_changes(job, entry)
        changed = bill_facts(job, untold)
        if changed is not None:
            _tell(untold[-1], Family.TERMS, run, lambda common: compose_terms(common, changed))


@reaction("tell the owner the date", kinds.DATE_PROMISED)
def on_date_promised(entry: JournalEntry, run: Run) -> None:
    """A first promise given before the booking is confirmed travels in that confirmation."""
    with run.finish():
        if entry.data["before"] is None and not entry.job.updates.filter(family=Family.BOOKED).exists():
            return
        promised = promise_facts(entry.data)
        _tell(entry, Family.PROMISE, run, lambda common: compose_promise(common, promised))


@reaction("tell the owner it is ready", kinds.OPERATION_FINISHED, kinds.HOLD_POINT_PASSED, kinds.OWNER_DECIDED)
def on_work_done(entry: JournalEntry, run: Run) -> None:
    """Once all work, checks and answers are done, say that the coach can be collected; once a job."""
    with run.finish():
        job = Job.objects.select_for_update().get(pk=entry.job_id)
        is_done = stage_for(job) == Stage.READY and not job.findings.undecided().exists()
        if not is_done or job.updates.filter(family=Family.READY).exists():
            return
        done = ready_facts(entry.job)
        _tell(entry, Family.READY, run, lambda common: compose_ready(common, done))


@reaction("tell the owner how it dries", kinds.DRYING_WORKED_OUT)
def on_drying_worked_out(entry: JournalEntry, run: Run) -> None:
    """Tell it when it is news: the first date, what holds it up, that it is dry, or a date that moved by days."""
    with run.finish():
        # Only what was read is news: not a limit that was set or a station taken off the list.
        if entry.data["cause"] != kinds.ROUND_TAKEN:
            return
        dries = drying_facts(entry.data, entry.job.shop)
        if dries is None or not _is_news(dries, entry):
            return
        slowest = slowest_station(entry.data["stations"])
        station = None if dries.state == "dry" else entry.job.stations.get(number=slowest)
        _tell(entry, Family.DRYING, run, lambda common: compose_drying(common, dries), station=station)


def _is_news(dries: DryingFacts, entry: JournalEntry) -> bool:
    """Measured against what the owner was told last; dry from the first reading on is no news.

    A date is news when it lies outside the span that was told: later than the day to count on, or all of it sooner.
    At most one message a day: what is still so tomorrow is told by tomorrow's round.
    """
    told = entry.job.updates.filter(family=Family.DRYING).select_related("entry").order_by("-pk").first()
    if told is None:
        return dries.state != "dry"
    if entry.at - told.entry.at < MOST_OF_A_DAY:
        return False
    before = drying_facts(told.entry.data, entry.job.shop)
    if before is None or before.state != dries.state:
        return True
    if not (before.even_on and before.safe_on and dries.safe_on):
        return False
    return dries.safe_on > before.safe_on + A_DAY or dries.safe_on < before.even_on


@reaction("hand the message over", update_kinds.UPDATE_WRITTEN)
def on_update_written(entry: JournalEntry, run: Run) -> None:
    update = Update.objects.select_related("owner", "job__shop", "job__coach").get(pk=entry.data["update"])
    hand_over(update, run)


def _tell(
    entry: JournalEntry,
    family: str,
    run: Run,
    compose: Callable[[Common], Message],
    *,
    station: Station | None = None,
) -> None:
    """Write the message to each owner who may decide."""
    owners: list[Owner] = list(entry.job.deciders())
    messages = [(owner, compose(common_facts(entry.job, owner))) for owner in owners]
    write_updates(entry, family, messages, station=station, now=run.now)
