"""How quantities came about, from the offer to the price page; and an offer that stays as it was made."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from estimates.models import Offer
from jobs.calc.faces import Face, Place
from jobs.calc.framing import FaceGroup
from jobs.models import ApprovalRequest, Decision
from jobs.services.approvals import Answer, record_decision
from jobs.services.framing import GroupFraming, note_framing
from shopfloor.demo.telling import drain
from tests.factories import NOON
from tests.scenes import find_rot, opened_coach

pytestmark = pytest.mark.django_db

PATCH = Place(Face.ROOF, 1000.0, 600.0, 700.0, 1200.0)
REACH = "cut out to the nearest members: 4 ft × 3 ft 11 1/4 in (16 in apart, assumed)"


@pytest.fixture
def scene():
    with time_machine.travel(NOON, tick=False):
        scene = opened_coach(NOON)
        note = scene.shop.standard_remedies.get(name="Renew deck to the nearest members")
        find_rot(scene, kind="loose_decking", place=PATCH, remedy=note)
        drain(NOON)
        yield scene


def say_yes(scene):
    asked = ApprovalRequest.objects.get()
    record_decision(
        request_id=asked.pk,
        seen_sha256=asked.offer_sha256,
        answer=Answer(asked.remedy, scene.owner.name, scene.owner, Decision.Channel.LINK),
        by=None,
        now=NOON,
    )
    drain(NOON)


def test_an_offer_keeps_how_each_quantity_came_about(scene):
    lines = {line["words"]: line for line in Offer.objects.get().choices[0]["lines"]}

    assert lines["Plywood decking"]["how"] == (f"{REACH}, laid across the members = 1 sheet of 4 × 8 ft")
    assert lines["Let in and fasten new board"]["how"] == f"{REACH}: 15.7 ft²"


def test_the_page_of_prices_shows_it_once_it_is_agreed(client, scene):
    say_yes(scene)
    client.force_login(scene.manager)

    page = client.get(reverse("estimates:price-detail", args=[scene.job.pk])).text

    assert REACH in page
    assert "laid across the members = 1 sheet of 4 × 8 ft" in page


def test_framing_noted_later_changes_no_offer_and_no_price_of_a_yes(scene):
    before = Offer.objects.values().get()

    note_framing(
        job_id=scene.job.pk,
        known={FaceGroup.ROOF: GroupFraming(609.6)},
        by=scene.technician,
        now=NOON + timedelta(hours=1),
    )
    drain(NOON + timedelta(hours=1))
    say_yes(scene)

    assert Offer.objects.values().get() == before
    agreed = scene.job.revisions.order_by("number").last().content["groups"][-1]
    assert REACH in agreed["lines"][0]["how"]
