"""The register of the shop: superusers keep it, nobody rewrites the journal in it."""

import pytest
from django.urls import reverse

from jobs import kinds
from jobs.journal import record
from jobs.models import JournalEntry, Person
from tests.factories import NOON, PASSWORD, JobFactory, PersonFactory, ShopFactory

pytestmark = pytest.mark.django_db

NAMES = ["shop", "person", "standardremedy", "journalentry"]


@pytest.fixture
def chief(client):
    person = PersonFactory(is_staff=True, is_superuser=True)
    client.force_login(person)
    return person


@pytest.mark.parametrize("name", NAMES)
def test_a_superuser_reads_every_register(client, chief, name):
    assert client.get(reverse(f"admin:jobs_{name}_changelist")).status_code == 200


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("manager", [True, False])
def test_people_of_the_shop_have_no_register(client, name, manager):
    client.force_login(PersonFactory(manager=manager))

    assert client.get(reverse(f"admin:jobs_{name}_changelist")).status_code == 302


def test_a_new_person_can_sign_in(client, chief):
    shop = ShopFactory()
    fields = {
        "username": "petra",
        "first_name": "Petra",
        "last_name": "Sandvik",
        "shop": shop.pk,
        "role": "technician",
        "usable_password": "true",
        "password1": PASSWORD,
        "password2": PASSWORD,
        "absences-TOTAL_FORMS": 0,
        "absences-INITIAL_FORMS": 0,
    }

    response = client.post(reverse("admin:jobs_person_add"), fields)

    assert response.status_code == 302
    petra = Person.objects.get(username="petra")
    assert petra.shop == shop
    assert petra.check_password(PASSWORD)


def test_the_journal_is_read_and_never_written(client, chief):
    entry = record(JobFactory(), kinds.COACH_ARRIVED, now=NOON, person=chief)
    page = reverse("admin:jobs_journalentry_change", args=[entry.pk])

    assert client.get(page).status_code == 200
    assert client.post(page, {"actor": "Somebody else"}).status_code == 403
    assert client.post(reverse("admin:jobs_journalentry_delete", args=[entry.pk])).status_code == 403
    assert client.get(reverse("admin:jobs_journalentry_add")).status_code == 403
    assert JournalEntry.objects.get().actor == entry.actor
