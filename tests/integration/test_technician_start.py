"""The first page: bays and the coaches in them."""

from datetime import timedelta

import pytest
from django.urls import reverse

from tests.factories import (
    NOON,
    BayFactory,
    CoachFactory,
    FindingFactory,
    JobFactory,
    OperationFactory,
    PersonFactory,
    RemedyFactory,
    ShopFactory,
)

pytestmark = pytest.mark.django_db

START = "/"


@pytest.fixture
def technician(client):
    person = PersonFactory()
    client.force_login(person)
    return person


def running_in(job, **kwargs):
    return OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job)), running=True, **kwargs)


def test_every_bay_shows_its_coach(client, technician):
    job = JobFactory(shop=technician.shop, in_bay=True, bay__name="North bay", coach__make="Larkmoor Finch")
    BayFactory(shop=technician.shop, name="South bay")

    page = client.get(START)

    rows = {row.bay.name: row.standing for row in page.context["bays"]}
    assert rows["North bay"].job == job
    assert rows["South bay"] is None
    assert f'href="{reverse("jobs:job-detail", args=[job.pk])}"' in page.text
    assert "Larkmoor Finch" in page.text
    assert "empty" in page.text


def test_coaches_outside_and_booked_ones_are_listed_apart(client, technician):
    outside = JobFactory(shop=technician.shop, arrived=True)
    booked = JobFactory(shop=technician.shop)
    JobFactory(shop=technician.shop, arrived=True, collected_at=NOON - timedelta(days=1), coach__make="Long gone")

    page = client.get(START)

    assert [each.job for each in page.context["outside"]] == [outside]
    assert [each.job for each in page.context["booked"]] == [booked]
    assert "Long gone" not in page.text


def test_running_work_is_listed_with_who_does_it(client, technician):
    job = JobFactory(shop=technician.shop, in_bay=True)
    operation = running_in(job, words="Cut out the front header")
    operation.workers.add(technician)

    page = client.get(START)

    assert list(page.context["running"]) == [operation]
    assert "Cut out the front header" in page.text
    assert "Imani Feld" in page.text


def test_nothing_of_another_shop_is_shown(client, technician):
    other = ShopFactory()
    running_in(JobFactory(shop=other, in_bay=True, coach__make="Foreign coach"), words="Foreign work")
    JobFactory(shop=other, arrived=True, coach__make="Foreign coach")
    JobFactory(shop=other, coach__make="Foreign coach")

    page = client.get(START)

    assert "Foreign" not in page.text


def test_a_manager_is_sent_to_the_board(client):
    client.force_login(PersonFactory(manager=True))

    response = client.get(START)

    assert response.status_code == 302
    assert response.url == reverse("shopfloor:board")


def test_a_superuser_of_no_shop_is_sent_to_the_register(client):
    client.force_login(PersonFactory(shop=None, is_superuser=True, is_staff=True))

    assert client.get(START).url == reverse("admin:index")


def test_a_stranger_is_sent_to_sign_in(client):
    assert client.get(START).url == "/sign-in/?next=/"


def test_only_reading_is_possible(client, technician):
    assert client.post(START).status_code == 405


def test_the_number_of_queries_does_not_grow_with_the_shop(client, technician, django_assert_max_num_queries):
    def fill(count):
        for _ in range(count):
            job = JobFactory(shop=technician.shop, in_bay=True, coach=CoachFactory(shop=technician.shop))
            running_in(job).workers.add(technician)
            JobFactory(shop=technician.shop, arrived=True)
            JobFactory(shop=technician.shop)

    fill(1)
    with django_assert_max_num_queries(18) as few:
        client.get(START)
    fill(6)

    with django_assert_max_num_queries(len(few)):
        client.get(START)
