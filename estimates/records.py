"""Whether what was agreed still stands as it was written: journal, offers, decisions, revisions."""

from collections.abc import Iterator

from estimates import kinds
from estimates.models import Offer
from jobs.journal import first_break, sha256_of
from jobs.models import Decision, Job, JournalEntry


def breaks(job: Job) -> Iterator[str]:
    """Each place of this job's records that does not fit, in words; none when all is whole.

    The journal's chain; the fingerprint of every offer and revision over its content; every revision's total and
    fingerprint as the journal noted them when it was settled; every decision's offer.
    """
    if entry := first_break(job):
        yield f"{job}: entry {entry.number} ({entry.kind}) does not fit the chain."
    for offer in Offer.objects.filter(finding__job=job).order_by("pk"):
        if sha256_of(offer.content) != offer.sha256:
            yield f"{job}: {offer} does not fit its fingerprint."
    yield from _revision_breaks(job)
    yield from _decision_breaks(job)


def _revision_breaks(job: Job) -> Iterator[str]:
    settled = JournalEntry.objects.filter(job=job, kind=kinds.SCOPE_SETTLED).order_by("number")
    noted = {entry.data["revision"]: entry.data for entry in settled}
    for revision in job.revisions.order_by("number"):
        note = noted.get(revision.number)
        if sha256_of(revision.content) != revision.sha256:
            yield f"{job}: revision {revision.number} does not fit its fingerprint."
        if note is None:
            yield f"{job}: revision {revision.number} is not in the journal."
        elif (note["revision_sha256"], note["total_usd"]) != (revision.sha256, str(revision.total_usd)):
            yield f"{job}: revision {revision.number} is not what the journal noted."


def _decision_breaks(job: Job) -> Iterator[str]:
    known = set(Offer.objects.filter(finding__job=job).values_list("sha256", flat=True))
    for decision in Decision.objects.filter(request__finding__job=job).select_related("request__finding"):
        if decision.offer_sha256 not in known:
            yield f"{job}: the answer to finding {decision.request.finding.number} names an offer that is not there."
