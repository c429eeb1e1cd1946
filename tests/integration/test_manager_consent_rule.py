"""The rule for when the owner is asked: chosen by a manager, obeyed by what is found next."""

import pytest
import time_machine
from django.urls import reverse

from estimates.calc.consent_rules import STARTING_POINTS
from jobs.models import ApprovalRequest, Decision, Shop
from jobs.services.remedies import OwnRemedy
from shopfloor.demo.telling import drain
from tests.factories import NOON, PersonFactory
from tests.scenes import find_rot

pytestmark = pytest.mark.django_db

PAGE = reverse("estimates:consent-rule-edit")


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        yield scene


def test_every_rule_stands_there_with_its_law_and_the_word_to_check_it(client, scene):
    page = client.get(PAGE).text

    assert page.count('type="radio"') == len(STARTING_POINTS)
    assert "check local law" in page.lower()
    assert "does not claim to comply" in page
    assert page.count("checked") == 1


def test_a_looser_rule_lets_a_small_find_pass_that_the_strictest_would_ask_about(client, scene):
    small = OwnRemedy("Drive one screw", 0.1, scene.shop.skills.first())
    find_rot(scene, kind="corrosion", remedy=small)
    drain(NOON)
    asked = ApprovalRequest.objects.open().count()

    client.post(PAGE, {"rule": "washington"})
    find_rot(scene, kind="corrosion", remedy=small)
    drain(NOON)

    assert asked == 1
    assert ApprovalRequest.objects.open().count() == 1
    assert Decision.objects.get().channel == Decision.Channel.GO_AHEAD


def test_an_unknown_rule_is_refused(client, scene):
    response = client.post(PAGE, {"rule": "anything goes"})

    assert response.status_code == 422
    assert Shop.objects.get(pk=scene.shop.pk).consent_rule == "strictest"


def test_a_technician_may_not(client, scene):
    client.force_login(PersonFactory(shop=scene.shop))

    assert client.get(PAGE).status_code == 403
