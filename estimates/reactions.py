"""How estimates answers the journal: revisions, offers, plans."""

from estimates import kinds as estimate_kinds
from estimates.inputs import REPLANNED_ON, read_shop
from estimates.services.offers import is_still_wanted, make_offer, prepare_offer
from estimates.services.planning import note_refusal, store_plan, work_out_plan
from estimates.services.scope import settle_scope, write_first_revision
from jobs import kinds
from jobs.errors import JobError
from jobs.journal import GiveUp, Run, reaction, record
from jobs.models import Decision, Finding, JournalEntry
from jobs.services.remedies import awaits_offer


@reaction("write first revision", kinds.JOB_BOOKED)
def on_job_booked(entry: JournalEntry, run: Run) -> None:
    with run.finish():
        write_first_revision(entry, now=run.now)


@reaction("work out price and days", kinds.FINDING_POSTED, kinds.REMEDIES_ADJUSTED)
def on_remedies_proposed(entry: JournalEntry, run: Run) -> None:
    """Work out the offer outside the transaction, then store it and ask the owner in one.

    Remedies that were adjusted meanwhile have an entry of their own, and its reaction offers those.
    """
    finding = Finding.objects.select_related("job__shop__rates", "job__coach").get(pk=entry.data["finding"])
    if not awaits_offer(finding):
        with run.finish():
            return
    try:
        prepared = prepare_offer(finding, read_shop(entry.job.shop, run.now))
        with run.finish():
            if is_still_wanted(prepared):
                make_offer(prepared, now=run.now)
    except (JobError, ValueError) as error:
        raise GiveUp(str(error)) from error


@reaction("settle the scope", kinds.OWNER_DECIDED)
def on_owner_decided(entry: JournalEntry, run: Run) -> None:
    decision = Decision.objects.select_related("request__remedy__finding__job__shop__rates").get(
        pk=entry.data["decision"]
    )
    with run.finish():
        settle_scope(decision, entry, now=run.now)


@reaction("replan the shop", *REPLANNED_ON)
def replan(entry: JournalEntry, run: Run) -> None:
    """Plan the whole shop as it is now; the entry names the cause of what moves."""
    try:
        new = work_out_plan(read_shop(entry.job.shop, run.now))
    except ValueError as error:
        note_refusal(entry.job.shop, error)
        raise
    with run.finish():
        store_plan(new, entry, now=run.now)
        if entry.kind == estimate_kinds.SCOPE_SETTLED:
            record(entry.job, estimate_kinds.SCOPE_PLANNED, now=run.now, data=entry.data)
