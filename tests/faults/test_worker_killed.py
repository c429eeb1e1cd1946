"""A worker killed at any point of a finding's way loses nothing and doubles nothing.

The worker is told by a variable of the test's own settings module at which line of the way to kill itself with
SIGKILL, once. A fresh worker then finishes the work. Mail may be sent again only when the kill falls between the
mail server's answer and the note of it; the repeat carries the same Message-ID.
"""

import pytest

POINTS = [
    ("jobs.journal.run_claimed", "make photos ready", "before"),
    ("jobs.services.findings.store_renditions", "", "after"),
    ("estimates.services.offers.prepare_offer", "", "after"),
    ("estimates.services.offers.make_offer", "", "after"),
    ("estimates.services.planning.work_out_plan", "", "after"),
    ("estimates.services.planning.store_plan", "", "after"),
    ("updates.services.write_updates", "", "after"),
    ("updates.channels.email.send", "", "before"),
    ("updates.channels.email.send", "", "after"),
    ("jobs.journal.Run.finish", "", "before"),
]

POST = """
from django.utils import timezone
from jobs.models import Job
from tests.scenes import Scene, find_rot
job = Job.objects.get()
shop = job.shop
find_rot(Scene(timezone.now(), shop, None, shop.people.filter(role="technician")[0], None, None, None, job))
"""
OPENED = """
from django.utils import timezone
from tests.scenes import opened_coach
opened_coach(timezone.now())
"""
ASK_FOR_ORDER = """
from django.utils import timezone
from estimates.services.order_search import ask_for_order
from jobs.models import Shop
ask_for_order(shop=Shop.objects.get(), now=timezone.now())
"""
POLISHED = "from estimates.models import OrderSearch; print(OrderSearch.objects.filter(is_polished=True).exists())"
ALL_DONE = "from jobs.models import Reaction; print(not Reaction.objects.exclude(state='done').exists())"
COUNTS = """
from estimates.models import Offer
from jobs.models import ApprovalRequest, Finding, Photo, Reaction
from updates.models import Update
found = Finding.objects.filter(is_booked=False)
asked = Update.objects.filter(family="finding")
print(found.count(), Photo.objects.exclude(small="").count(), Offer.objects.count(), ApprovalRequest.objects.count(),
      asked.count(), asked.filter(sent_at__isnull=False).count(), Reaction.objects.filter(state="given_up").count())
"""


@pytest.fixture(scope="module")
def opened(stack_maker):
    """A coach in its bay. The lease is short, so that a dead worker's claim lapses in seconds."""
    with stack_maker(has_web=False, REACTION_LEASE_SECONDS="4", SWEEP_SECONDS="1") as stack:
        stack.python(OPENED)
        stack.keep()
        yield stack


@pytest.mark.parametrize(("place", "reaction", "when"), POINTS, ids=[f"{when} {place}" for place, _, when in POINTS])
def test_a_killed_worker_loses_nothing_and_doubles_nothing(place, reaction, when, opened, tmp_path):
    stack = opened
    stack.begin_again()
    stack.python(POST)
    marker = tmp_path / "killed"

    stack.start(
        "worker", "tests.support.mortal_worker",
        KILL_PLACE=place, KILL_REACTION=reaction, KILL_WHEN=when, KILL_MARKER=str(marker),
    )  # fmt: skip
    stack.start_beat()

    stack.wait_until(ALL_DONE)
    assert marker.exists(), f"the worker was never killed\n{stack.logs()}"
    assert stack.python(COUNTS) == "1 1 1 1 1 1 0"
    sent_ids = [message["Message-ID"] for message in stack.mail.messages]
    assert len(set(sent_ids)) == 1
    assert len(sent_ids) == 1 or (place, when) == ("updates.channels.email.send", "after")
    assert "whole" in stack.python("from django.core.management import call_command; call_command('verify_journal')")


def test_a_search_for_a_better_order_outlives_a_killed_worker(opened, tmp_path):
    stack = opened
    stack.begin_again()
    stack.python(ASK_FOR_ORDER)
    marker = tmp_path / "killed"

    stack.start(
        "worker", "tests.support.mortal_worker", KILL_PLACE="estimates.services.order_search._store_polished",
        KILL_REACTION="", KILL_WHEN="before", KILL_MARKER=str(marker),
    )  # fmt: skip
    stack.start_beat()

    stack.wait_until(POLISHED)
    assert marker.exists(), f"the worker was never killed\n{stack.logs()}"
