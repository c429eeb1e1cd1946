"""The journal: chained, append-only, and answered exactly once."""

from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.db import Error, connection, transaction
from kombu.exceptions import OperationalError

from jobs import journal, kinds
from jobs.models import JournalEntry, Reaction
from jobs.tasks import react
from tests.factories import NOON, JobFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def trial_kind(monkeypatch):
    """An entry kind of its own whose one reaction does what the test says."""
    behaviour = SimpleNamespace(act=lambda entry, run: _finish(run), calls=0)

    def function(entry, run):
        behaviour.calls += 1
        behaviour.act(entry, run)

    monkeypatch.setitem(journal.KINDS, "trial", journal.EntryKind("trial", "Trial", {"try it": function}))
    return behaviour


def _finish(run):
    with run.finish():
        pass


def test_each_entry_is_chained_to_the_one_before():
    job = JobFactory()

    first = journal.record(job, kinds.COACH_ARRIVED, now=NOON)
    second = journal.record(job, kinds.COACH_MOVED, now=NOON, data={"bay": "Bay 1"})

    assert (first.number, first.previous_sha256) == (1, "")
    assert (second.number, second.previous_sha256) == (2, first.sha256)
    assert journal.first_break(job) is None


def test_the_database_refuses_to_change_an_entry():
    entry = journal.record(JobFactory(), kinds.COACH_ARRIVED, now=NOON)

    with pytest.raises(Error, match="never changed"), transaction.atomic():
        JournalEntry.objects.filter(pk=entry.pk).update(actor="Somebody else")

    entry.refresh_from_db()
    assert entry.actor != "Somebody else"


def test_a_missing_entry_shows_where_the_chain_breaks():
    job = JobFactory()
    for _ in range(3):
        journal.record(job, kinds.COACH_ARRIVED, now=NOON)

    job.entries.get(number=2).delete()

    assert journal.first_break(job).number == 3


def test_an_entry_written_past_the_journal_shows():
    job = JobFactory()
    journal.record(job, kinds.COACH_ARRIVED, now=NOON)
    first = job.entries.get()

    JournalEntry.objects.create(
        job=job,
        number=2,
        kind="coach_moved",
        data={},
        actor="Forger",
        at=NOON,
        previous_sha256=first.sha256,
        sha256="0" * 64,
    )

    assert journal.first_break(job).number == 2


def test_nothing_is_written_when_the_transaction_fails(trial_kind):
    job = JobFactory()

    def record_and_fail():
        with transaction.atomic():
            journal.record(job, "trial", now=NOON)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        record_and_fail()

    assert not JournalEntry.objects.exists()
    assert not Reaction.objects.exists()


def test_a_reaction_runs_once_however_often_the_worker_is_woken(trial_kind):
    journal.record(JobFactory(), "trial", now=NOON)

    react()
    react()

    assert trial_kind.calls == 1
    assert Reaction.objects.get().state == Reaction.State.DONE


def test_a_claimed_reaction_is_not_claimed_again_until_its_lease_lapses(trial_kind):
    journal.record(JobFactory(), "trial", now=NOON)

    first = journal.claim_next(NOON)

    assert journal.claim_next(NOON + journal.LEASE) is None
    second = journal.claim_next(NOON + journal.LEASE + timedelta(seconds=1))
    assert second.pk == first.pk
    assert second.claim != first.claim


def test_a_worker_that_was_taken_over_writes_nothing(trial_kind):
    journal.record(JobFactory(), "trial", now=NOON)
    slow = journal.claim_next(NOON)
    later = NOON + journal.LEASE + timedelta(seconds=1)
    journal.run_claimed(journal.claim_next(later), later)
    done_at = Reaction.objects.get().done_at

    journal.run_claimed(slow, later + timedelta(hours=1))

    assert Reaction.objects.get().done_at == done_at


def test_writes_of_a_failing_reaction_are_rolled_back_with_it(trial_kind):
    job = JobFactory()

    def write_then_fail(entry, run):
        with run.finish():
            journal.record(job, kinds.COACH_MOVED, now=NOON)
            raise RuntimeError("disk is full")

    trial_kind.act = write_then_fail
    journal.record(job, "trial", now=NOON)

    journal.run_claimed(journal.claim_next(NOON), NOON)

    assert job.entries.count() == 1
    row = Reaction.objects.get()
    assert (row.state, row.last_error) == (Reaction.State.DUE, "RuntimeError: disk is full")


def test_a_failing_reaction_waits_longer_each_time_and_is_then_given_up(trial_kind):
    def fail(entry, run):
        raise RuntimeError("no")

    trial_kind.act = fail
    journal.record(JobFactory(), "trial", now=NOON)
    now, pauses = NOON, []

    while claimed := journal.claim_next(now):
        journal.run_claimed(claimed, now)
        row = Reaction.objects.get()
        if row.state == Reaction.State.GIVEN_UP:
            break
        pauses.append(row.due_at - now)
        now = row.due_at

    assert tuple(pauses) == journal.PAUSES
    assert trial_kind.calls == len(journal.PAUSES) + 1


def test_a_worker_that_dies_each_time_does_not_try_for_ever(trial_kind):
    journal.record(JobFactory(), "trial", now=NOON)
    now = NOON
    for _ in range(len(journal.PAUSES) + 1):
        assert journal.claim_next(now)  # and the worker dies
        now += journal.LEASE + timedelta(seconds=1)

    journal.run_claimed(journal.claim_next(now), now)

    assert trial_kind.calls == 0
    assert Reaction.objects.get().state == Reaction.State.GIVEN_UP


def test_the_manager_can_put_a_given_up_reaction_back(trial_kind):
    def give_up(entry, run):
        raise journal.GiveUp("Nobody may decide.")

    trial_kind.act = give_up
    journal.record(JobFactory(), "trial", now=NOON)
    journal.run_claimed(journal.claim_next(NOON), NOON)
    row = Reaction.objects.get()
    assert (row.state, row.last_error) == (Reaction.State.GIVEN_UP, "Nobody may decide.")
    trial_kind.act = lambda entry, run: _finish(run)

    journal.retry(row.pk, now=NOON)
    journal.run_claimed(journal.claim_next(NOON), NOON)

    assert Reaction.objects.get().state == Reaction.State.DONE


@pytest.mark.django_db(transaction=True)
def test_a_dead_broker_undoes_nothing(trial_kind, monkeypatch):
    def unreachable(**options):
        raise OperationalError("connection refused")

    monkeypatch.setattr(react, "apply_async", unreachable)
    job = JobFactory()

    with transaction.atomic():
        journal.record(job, "trial", now=NOON)

    assert connection.in_atomic_block is False
    assert Reaction.objects.get().state == Reaction.State.DUE


def test_a_kind_is_registered_once():
    with pytest.raises(ValueError, match="registered twice"):
        journal.entry_kind(kinds.COACH_ARRIVED, "Again")
