"""The nightly check of the records: it passes on a real job, and names whatever was tampered with."""

from decimal import Decimal

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection

from estimates.models import Offer, Revision
from estimates.records import breaks
from jobs.models import ApprovalRequest, Decision, JournalEntry
from jobs.services.approvals import Answer, record_decision
from shopfloor.demo.telling import drain
from tests.factories import NOON
from tests.scenes import find_rot, opened_coach

pytestmark = pytest.mark.django_db


def answered_job():
    """A job with a question answered yes."""
    scene = opened_coach(NOON)
    find_rot(scene)
    drain(NOON)
    asked = ApprovalRequest.objects.get()
    record_decision(
        request_id=asked.pk,
        seen_sha256=asked.offer_sha256,
        answer=Answer(asked.remedy, scene.owner.name, scene.owner, Decision.Channel.LINK),
        by=None,
        now=NOON,
    )
    drain(NOON)
    return scene


@pytest.fixture(scope="module")
def kept_job(keeper):
    with time_machine.travel(NOON, tick=False):
        return keeper(answered_job)


@pytest.fixture
def scene(kept_job):
    with time_machine.travel(NOON, tick=False):
        yield kept_job()


def tamper(model, pk, **fields):
    """Change a guarded row the way somebody with the database's keys would: the trigger goes first."""
    table = model._meta.db_table
    on_table = f" ON {table}" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {table}_unchangeable{on_table}")
    model.objects.filter(pk=pk).update(**fields)


def test_an_untouched_job_is_whole(scene, capsys):
    call_command("verify_journal")

    assert capsys.readouterr().out == "The journals of 1 jobs are whole.\n"


def test_a_changed_entry_is_named(scene):
    entry = JournalEntry.objects.get(job=scene.job, number=3)
    tamper(JournalEntry, entry.pk, data={"nothing": "happened"})

    with pytest.raises(CommandError, match=rf"entry 3 \({entry.kind}\) does not fit the chain"):
        call_command("verify_journal")


def test_a_revision_made_cheaper_is_named_even_with_a_fingerprint_that_fits(scene):
    revision = Revision.objects.filter(job=scene.job).latest("number")
    content = revision.content | {"agreed_by": "Somebody else"}
    tamper(Revision, revision.pk, content=content, total_usd=Decimal("1.00"))

    found = list(breaks(scene.job))

    assert any("revision 2 does not fit its fingerprint" in words for words in found)
    assert any("revision 2 is not what the journal noted" in words for words in found)


def test_an_offer_changed_after_the_answer_is_named(scene):
    offer = Offer.objects.get()
    tamper(Offer, offer.pk, content=offer.content | {"ready_without_on": "2020-01-01"})

    assert any("does not fit its fingerprint" in words for words in breaks(scene.job))


def test_a_decision_on_an_offer_that_is_not_there_is_named(scene):
    tamper(Decision, Decision.objects.get().pk, offer_sha256="0" * 64)

    assert any("names an offer that is not there" in words for words in breaks(scene.job))
