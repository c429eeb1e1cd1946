"""How a coach is framed, noted by whoever has opened it up."""

import pytest
import time_machine
from django.urls import reverse

from jobs import kinds
from jobs.calc.framing import FaceGroup
from jobs.errors import JobError
from jobs.models import Job, JournalEntry
from jobs.services.framing import GroupFraming, note_framing
from shopfloor.journal_words import particulars
from tests.factories import NOON, JobFactory, PersonFactory, ShopFactory

pytestmark = pytest.mark.django_db

KNOWN = {
    "roof_spacing": '16"',
    "roof_run": "across",
    "wall_spacing": "2'",
    "wall_run": "along",
    "floor_spacing": "",
    "floor_run": "across",
}


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def technician(client):
    person = PersonFactory()
    client.force_login(person)
    return person


@pytest.fixture
def job(technician):
    return JobFactory(shop=technician.shop, in_bay=True)


def page_of(job):
    return reverse("jobs:framing-note", args=[job.pk])


def test_until_somebody_measures_sixteen_inches_are_assumed_and_said_to_be(client, job):
    page = client.get(reverse("jobs:job-detail", args=[job.pk]))

    assert "Roof: 16 in apart, from side to side (assumed)" in page.text
    assert "Wall: 16 in apart, upright (assumed)" in page.text
    assert page_of(job) in page.text
    Job.objects.filter(pk=job.pk).update(left_bay_at=NOON, collected_at=NOON)
    assert page_of(job) not in client.get(reverse("jobs:job-detail", args=[job.pk])).text


@pytest.mark.parametrize("is_manager", [False, True])
def test_technician_and_manager_note_what_they_measured(client, job, is_manager):
    person = PersonFactory(shop=job.shop, manager=True) if is_manager else PersonFactory(shop=job.shop)
    client.force_login(person)

    response = client.post(page_of(job), KNOWN, follow=True)

    job.coach.refresh_from_db()
    assert response.redirect_chain[0][1] == 302
    assert "The framing is noted" in response.text
    assert (job.coach.roof_spacing_mm, job.coach.wall_spacing_mm) == (pytest.approx(406.4), pytest.approx(609.6))
    assert (job.coach.wall_run, job.coach.floor_spacing_mm) == ("along", None)
    assert [response.context["form"][f"{group}_spacing"].value() for group in FaceGroup] == ["16 in", "24 in", None]
    entry = JournalEntry.objects.get(kind=kinds.FRAMING_NOTED)
    assert entry.person == person
    assert particulars(entry) == (
        "roof: 16 in apart, from side to side; wall: 24 in apart, lying; "
        "floor: 16 in apart, from side to side (assumed)"
    )


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("roof_spacing", "-16", "below zero"),
        ("roof_spacing", "wide", "does not read as a length"),
        ("wall_spacing", "1/2 in", "Members stand 3 in to 60 in apart"),
        ("floor_spacing", "40'", "Check the unit"),
        ("floor_run", "diagonal", "Select a valid choice"),
    ],
)
def test_a_slip_is_refused_beside_its_field_and_kept_as_typed(client, job, field, typed, words):
    response = client.post(page_of(job), KNOWN | {field: typed})

    job.coach.refresh_from_db()
    assert response.status_code == 422
    assert words in response.text
    assert response.context["form"][field].value() == typed
    assert job.coach.wall_spacing_mm is None
    assert not JournalEntry.objects.filter(kind=kinds.FRAMING_NOTED).exists()


def test_another_shops_coach_is_not_there(client, job):
    client.force_login(PersonFactory(shop=ShopFactory()))

    assert {client.get(page_of(job)).status_code, client.post(page_of(job), KNOWN).status_code} == {404}


def test_other_methods_are_refused(client, job):
    assert client.put(page_of(job)).status_code == 405


def test_a_coach_that_has_gone_home_stays_as_it_was_noted(client, job):
    job.left_bay_at = job.collected_at = NOON
    job.save()

    response = client.post(page_of(job), KNOWN)

    assert response.status_code == 422
    assert "This coach has been collected." in response.text


def test_the_service_refuses_a_slip_as_well(job, technician):
    with pytest.raises(JobError, match="spacing_mm must be"):
        note_framing(job_id=job.pk, known={FaceGroup.ROOF: GroupFraming(3.0)}, by=technician, now=NOON)
