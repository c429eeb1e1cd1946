"""Who may open what: every address of the product, as a stranger, another owner, a technician, another shop's manager.

The list comes from the URL configuration itself, so a new page is tested the day it is written.
"""

import logging
import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from estimates.models import RecipeOperation, Term
from estimates.services.payments import NewPayment, take_payment
from estimates.services.terms import NewTerm, agree_term
from jobs.models import Absence, ApprovalRequest, Decision, HoldPoint, Operation, Overtime, Person, Photo
from jobs.services.approvals import Answer, record_decision
from shopfloor.demo.telling import drain
from shopfloor.logs import WithoutOwnerTokens
from tests.factories import PersonFactory, PlacementFactory, ShopFactory, WorkSpanFactory
from tests.scenes import find_rot, mark, opened_coach, walk
from updates.links import make_link
from updates.models import OwnerLink

pytestmark = pytest.mark.django_db

# Open to everyone, by name: signing in, an owner's link, health, and what a browser asks for by itself.
PUBLIC = {"jobs:sign-in", "updates:link-open", "process-up", "process-ready", "shopfloor:mailbox"}
OWNER_PAGES = "updates:"
# Pages of one's own shop without a row in the address: another shop's manager sees their own there.
OWN_SHOP = {
    "jobs:start",
    "jobs:sign-out",
    "jobs:limits-edit",
    "jobs:altitude-set",
    "estimates:catalogue-list",
    "estimates:catalogue-load",
    "estimates:starting-load",
    "estimates:catalogue-download",
    "estimates:catalogue-file",
    "estimates:rates-edit",
    "estimates:remedy-add",
    "estimates:material-add",
    "jobs:clock-off",
    "estimates:consent-rule-edit",
    "estimates:actuals",
    "shopfloor:board",
    "shopfloor:job-list",
    "shopfloor:job-book",
    "shopfloor:first-date-find",
    "shopfloor:move-list",
    "shopfloor:odds-record",
    "shopfloor:order-look",
    "shopfloor:order-adopt",
    "shopfloor:order-drop",
    "shopfloor:what-if",
    "shopfloor:person-list",
    "shopfloor:equipment-edit",
    "shopfloor:day",
    "shopfloor:day-give-out",
}


def patterns(resolver, namespace=""):
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            inner = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
            yield from patterns(entry, inner)
        elif isinstance(entry, URLPattern) and entry.name:
            yield f"{namespace}{entry.name}", set(entry.pattern.converters)


ALL = sorted({(name, tuple(sorted(keys))) for name, keys in patterns(get_resolver()) if not name.startswith("admin:")})


@pytest.fixture(scope="module")
def kept_world(keeper):
    return keeper(job_with_everything)


@pytest.fixture
def world(kept_world):
    return kept_world()


def job_with_everything():
    """A job with something of everything, and what each address needs to name it."""
    now = timezone.now()
    scene = opened_coach(now)
    find_rot(scene)
    drain(now)
    asked = ApprovalRequest.objects.get()
    decision = record_decision(
        request_id=asked.pk,
        seen_sha256=asked.offer_sha256,
        answer=Answer(asked.remedy, scene.owner.name, scene.owner, Decision.Channel.LINK),
        by=None,
        now=now,
    )
    drain(now)
    station = mark(scene)
    walk(scene, now, {station: 27.0})
    placement = PlacementFactory(job=scene.job, placed_by=scene.technician)
    drain(now)
    update = scene.job.updates.first()
    values = {
        "job_id": scene.job.pk,
        "public_id": scene.job.public_id,
        "finding_id": asked.finding_id,
        "request_id": asked.pk,
        "decision_id": decision.pk,
        "photo_id": Photo.objects.first().pk,
        "size": "small",
        "station_id": station.pk,
        "payment_id": take_payment(
            job_id=scene.job.pk,
            new=NewPayment(uuid.uuid4(), "owner", Decimal(50), "cash", scene.shop.local_date(now)),
            by=scene.manager,
            now=now,
        ).pk,
        "term_id": agree_term(
            job_id=scene.job.pk,
            new=NewTerm("discount", "At the desk", amount_usd=Decimal(50)),
            by=scene.manager,
            now=now,
        )
        and Term.objects.get().pk,
        "reading_id": station.readings.get().pk,
        "placement_id": placement.pk,
        "layer": "framing",
        "form": "svg",
        "operation_id": Operation.objects.first().pk,
        "span_id": WorkSpanFactory(operation=Operation.objects.first(), ended_at=now, started_at=now).pk,
        "remedy_id": scene.shop.standard_remedies.first().pk,
        "material_id": scene.shop.materials.first().pk,
        "recipe_operation_id": RecipeOperation.objects.first().pk,
        "hold_point_id": HoldPoint.objects.first().pk,
        "revision_id": scene.job.revisions.first().pk,
        "number": 1,
        "table": "materials",
        "reaction_id": scene.job.entries.filter(reactions__isnull=False).first().reactions.first().pk,
        "owner_id": scene.owner.pk,
        "person_id": scene.technician.pk,
        "absence_id": Absence.objects.create(person=scene.technician, first_on=now.date(), last_on=now.date()).pk,
        "overtime_id": Overtime.objects.create(
            person=scene.technician, begins_at=now, ends_at=now + timedelta(hours=1)
        ).pk,
        "update_id": update.pk,
        "token": "x" * 43,
        "paper": "estimate",
    }
    return scene, values, now


def address(name, keys, values):
    missing = set(keys) - set(values)
    assert not missing, f"{name} takes {missing}: say in this test what it names"
    return reverse(name, kwargs={key: values[key] for key in keys})


def answers(client, url):
    """The statuses of both ways of asking."""
    return {client.get(url).status_code, client.post(url).status_code}


def test_there_are_addresses_to_check():
    assert len(ALL) >= 25


# One world serves all addresses of a test: whoever is kept out changes nothing in it.


def wrong(client, addresses, values, allowed):
    """The addresses that answer otherwise than they may, with what they answered."""
    given = {name: answers(client, address(name, keys, values)) for name, keys in addresses}
    return {name: statuses for name, statuses in given.items() if not statuses <= allowed}


def test_a_stranger_is_sent_to_sign_in_or_told_nothing(world):
    _, values, _ = world
    client = Client()
    public = [entry for entry in ALL if entry[0] in PUBLIC]
    owners = [entry for entry in ALL if entry[0].startswith(OWNER_PAGES) and entry not in public]
    others = [entry for entry in ALL if entry not in public and entry not in owners]

    assert wrong(client, public, values, {200, 302, 404, 405, 422, 503}) == {}
    assert wrong(client, owners, values, {404, 405}) == {}
    assert wrong(client, others, values, {302, 405}) == {}
    sent_elsewhere = [
        (name, response["Location"])
        for name, keys in others
        for response in (client.get(address(name, keys, values)), client.post(address(name, keys, values)))
        if response.status_code == 302 and not response["Location"].startswith(reverse("jobs:sign-in"))
    ]
    assert sent_elsewhere == []


def test_the_owner_of_another_job_sees_nothing_of_this_one(world):
    scene, values, now = world
    other = opened_coach(now)
    client = Client()
    client.get(make_link(job=other.job, owner=other.owner, now=now).replace("http://127.0.0.1:8000", ""))
    assert client.get(reverse("updates:job-story", args=[other.job.public_id])).status_code == 200

    assert wrong(client, [entry for entry in ALL if entry[0].startswith(OWNER_PAGES)], values, {404, 405}) == {}
    assert scene.job.pk != other.job.pk


def test_the_manager_of_another_shop_sees_nothing_of_this_one(world):
    _, values, _ = world
    client = Client()
    client.force_login(PersonFactory(shop=ShopFactory(), role=Person.Role.MANAGER))
    closed = [entry for entry in ALL if entry[0] not in PUBLIC | OWN_SHOP and not entry[0].startswith(OWNER_PAGES)]

    assert wrong(client, closed, values, {404, 405}) == {}


def test_a_technician_is_kept_from_the_managers_pages(world):
    scene, values, _ = world
    client = Client()
    client.force_login(scene.technician)
    managers = [entry for entry in ALL if entry[0].startswith("shopfloor:") and entry[0] not in PUBLIC]

    assert wrong(client, managers, values, {403, 405}) == {}


@pytest.mark.parametrize("state", ["wrong", "withdrawn", "expired", "of another job"])
def test_every_link_that_opens_nothing_gets_the_same_answer(state, world):
    scene, _, now = world
    url = make_link(job=scene.job, owner=scene.owner, now=now).replace("http://127.0.0.1:8000", "")
    link = OwnerLink.objects.latest("pk")
    if state == "wrong":
        url = reverse("updates:link-open", args=["y" * 43])
    elif state == "withdrawn":
        OwnerLink.objects.filter(pk=link.pk).update(withdrawn_at=now)
    elif state == "expired":
        OwnerLink.objects.filter(pk=link.pk).update(expires_at=now, made_at=link.made_at.replace(year=2020))
    else:
        url = reverse("updates:job-story", args=[uuid.uuid4()])

    response = Client().get(url)

    assert response.status_code == 404
    assert "This link does not open a page" in response.content.decode()
    assert scene.job.coach.make not in response.content.decode()


def test_an_open_page_closes_when_its_link_is_withdrawn(world):
    scene, _, now = world
    client = Client()
    client.get(make_link(job=scene.job, owner=scene.owner, now=now).replace("http://127.0.0.1:8000", ""))
    story = reverse("updates:job-story", args=[scene.job.public_id])
    assert client.get(story).status_code == 200

    OwnerLink.objects.filter(job=scene.job).update(withdrawn_at=now)

    assert client.get(story).status_code == 404


def test_an_owners_token_never_stands_in_the_log():
    record = logging.LogRecord("django.request", logging.WARNING, "", 1, "Not Found: %s", ("/o/secret-token/",), None)

    WithoutOwnerTokens().filter(record)

    assert record.getMessage() == "Not Found: /o/.../"
