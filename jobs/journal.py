"""The journal: audit trail, outbox and wiring in one.

A service writes its change and `record()`s its entry in one transaction. `record()` also writes one
Reaction row for each reaction registered for that kind of entry. The worker claims due rows one at a
time and runs them; beat sweeps up what a dead worker or broker left behind. So nothing is lost, and a
reader lists all that happens after a finding with `manage.py list_reactions`.
"""

import hashlib
import json
import logging
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import F, Q
from kombu.exceptions import OperationalError

from jobs.models import Job, JournalEntry, Person, Reaction

log = logging.getLogger(__name__)

LEASE = timedelta(seconds=settings.REACTION_LEASE_SECONDS)
# The growing pauses after a failed attempt; after the last one the manager is shown the failure (about a day).
PAUSES = tuple(timedelta(seconds=seconds) for seconds in (10, 60, 600, 3600, 6 * 3600, 17 * 3600))


class GiveUp(Exception):
    """Trying again cannot help; the text is shown to the manager."""


class ClaimLost(Exception):
    """Another worker has taken this reaction over; what this one computed is dropped."""


@dataclass(frozen=True)
class Run:
    """One attempt at one reaction."""

    reaction_id: int
    claim: uuid.UUID
    now: datetime

    @contextmanager
    def finish(self) -> Iterator[None]:
        """One transaction that marks the reaction done and holds its writes: both or neither.

        Slow sums and the network come before it, so that no lock is held meanwhile.
        Raises ClaimLost, writing nothing, if the claim lapsed and another worker took over.
        """
        with transaction.atomic():
            mine = Reaction.objects.filter(pk=self.reaction_id, claim=self.claim, state=Reaction.State.DUE)
            if mine.update(state=Reaction.State.DONE, done_at=self.now, claimed_until=None, last_error="") != 1:
                raise ClaimLost(f"Reaction {self.reaction_id} was taken over.")
            yield


ReactionFunction = Callable[[JournalEntry, Run], None]


@dataclass
class EntryKind:
    """A kind of journal entry, its words for the manager, and the reactions that answer it."""

    name: str
    words: str
    reactions: dict[str, ReactionFunction] = field(default_factory=dict)
    waits: dict[str, timedelta] = field(default_factory=dict)  # of reactions that are due only some time after


KINDS: dict[str, EntryKind] = {}


def entry_kind(name: str, words: str) -> str:
    """Register a kind of entry; each app names its own in its kinds.py."""
    if name in KINDS:
        raise ValueError(f"entry kind {name!r} is registered twice")
    KINDS[name] = EntryKind(name, words)
    return name


def reaction(name: str, *kinds: str, after: timedelta = timedelta(0)) -> Callable[[ReactionFunction], ReactionFunction]:
    """Register a function as the reaction `name` to entries of these kinds.

    after: how long it waits for what else may happen; its row is written with the entry all the same.
    The function must call `with run.finish():` around its writes, exactly once.
    """

    def register(function: ReactionFunction) -> ReactionFunction:
        for kind in kinds:
            KINDS[kind].reactions[name] = function
            KINDS[kind].waits[name] = after
        return function

    return register


def record(
    job: Job,
    kind: str,
    *,
    now: datetime,
    data: dict[str, Any] | None = None,
    person: Person | None = None,
    actor: str = "",
) -> JournalEntry:
    """Append an entry to the job's journal, with a due row for each of its reactions.

    Must run in the transaction of the change it tells of. `actor` names who did it when no
    signed-in person did. After commit the worker is woken; if the broker is down the sweep finds the rows.
    """
    Job.objects.select_for_update().get(pk=job.pk)  # one writer a journal: the chain has no forks
    last = JournalEntry.objects.filter(job=job).order_by("-number").first()
    entry = JournalEntry(
        job=job,
        number=last.number + 1 if last else 1,
        kind=kind,
        data=data or {},
        person=person,
        actor=actor or (person.get_full_name() or person.username if person else "Coachwright"),
        at=now,
        previous_sha256=last.sha256 if last else "",
    )
    entry.sha256 = fingerprint(entry)
    entry.save(force_insert=True)
    names, waits = KINDS[kind].reactions, KINDS[kind].waits
    Reaction.objects.bulk_create(
        Reaction(entry=entry, name=name, due_at=now + waits.get(name, timedelta(0))) for name in names
    )
    if names:
        transaction.on_commit(_wake, robust=True)
    return entry


def fingerprint(entry: JournalEntry) -> str:
    """SHA-256 over the entry's canonical content and the fingerprint of the entry before it."""
    content = {
        "job": entry.job_id,
        "number": entry.number,
        "kind": entry.kind,
        "data": entry.data,
        "person": entry.person_id,
        "actor": entry.actor,
        "at": entry.at.astimezone(UTC).isoformat(),
        "previous": entry.previous_sha256,
    }
    return sha256_of(content)


def sha256_of(content: dict[str, Any]) -> str:
    """Fingerprint of JSON content in its one canonical form."""
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def first_break(job: Job) -> JournalEntry | None:
    """The first entry of the job's journal that does not fit its chain, or None when all is whole."""
    previous = ""
    for number, entry in enumerate(job.entries.order_by("number").iterator(), start=1):
        if entry.number != number or entry.previous_sha256 != previous or entry.sha256 != fingerprint(entry):
            return entry
        previous = entry.sha256
    return None


def claim_next(now: datetime) -> Reaction | None:
    """Take one due reaction, oldest first, or None. The claim is one UPDATE that must change one row."""
    due = Q(state=Reaction.State.DUE, due_at__lte=now) & (Q(claimed_until__isnull=True) | Q(claimed_until__lt=now))
    while True:
        pk = Reaction.objects.filter(due).order_by("due_at", "pk").values_list("pk", flat=True).first()
        if pk is None:
            return None
        token = uuid.uuid4()
        taken = Reaction.objects.filter(due, pk=pk).update(
            claim=token, claimed_until=now + LEASE, attempts=F("attempts") + 1
        )
        if taken == 1:
            return Reaction.objects.select_related("entry__job__shop").get(pk=pk, claim=token)


def run_claimed(claimed: Reaction, now: datetime) -> None:
    """Run a claimed reaction; a failure is written on its row with the time of the next attempt."""
    run = Run(claimed.pk, claimed.claim, now)
    if claimed.attempts > len(PAUSES) + 1:
        _give_up(run, "The worker died each time it tried this.")
        return
    function = KINDS[claimed.entry.kind].reactions[claimed.name]
    try:
        function(claimed.entry, run)
    except ClaimLost:
        log.warning("reaction %s taken over by another worker", claimed.pk)
    except GiveUp as error:
        _give_up(run, str(error))
    except Exception as error:
        log.exception("reaction %s (%s) failed", claimed.pk, claimed.name)
        _fail(run, claimed.attempts, f"{type(error).__name__}: {error}")


def retry(reaction_id: int, *, now: datetime) -> None:
    """Put a reaction that was given up back in the queue (the manager asked)."""
    given_up = Reaction.objects.filter(pk=reaction_id, state=Reaction.State.GIVEN_UP)
    if given_up.update(state=Reaction.State.DUE, attempts=0, due_at=now, claimed_until=None):
        transaction.on_commit(_wake, robust=True)


def _wake() -> None:
    from jobs.tasks import react  # the task module imports this one

    try:
        react.apply_async(retry=True, retry_policy=settings.CELERY_TASK_PUBLISH_RETRY_POLICY)
    except OperationalError as error:
        log.warning("broker not reached, the sweep will find the work: %s", error)


def _fail(run: Run, attempts: int, error: str) -> None:
    if attempts > len(PAUSES):
        _give_up(run, error)
        return
    Reaction.objects.filter(pk=run.reaction_id, claim=run.claim, state=Reaction.State.DUE).update(
        due_at=run.now + PAUSES[attempts - 1], claimed_until=None, last_error=error[:500]
    )


def _give_up(run: Run, error: str) -> None:
    log.error("reaction %s given up: %s", run.reaction_id, error)
    Reaction.objects.filter(pk=run.reaction_id, claim=run.claim, state=Reaction.State.DUE).update(
        state=Reaction.State.GIVEN_UP, claimed_until=None, last_error=error[:500]
    )
