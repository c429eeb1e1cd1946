"""The owner's pages: each way in and out."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import ApprovalRequest, Decision, Photo
from jobs.services.approvals import Answer, record_decision
from shopfloor.demo.telling import drain
from tests.scenes import find_rot, opened_coach
from updates.links import make_link

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def kept_scene(keeper):
    return keeper(coach_with_a_question)


@pytest.fixture
def scene(kept_scene):
    return kept_scene()


def coach_with_a_question():
    now = timezone.now()
    scene = opened_coach(now)
    find_rot(scene)
    drain(now)
    return scene


@pytest.fixture
def owner(scene):
    """The owner's browser, the link opened."""
    browser = Client()
    browser.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=scene.now).split("/o/")[1])
    return browser


def story(scene):
    return reverse("updates:job-story", args=[scene.job.public_id])


def answer(owner, scene, **changes):
    asked = ApprovalRequest.objects.get()
    given = {"answer": str(asked.remedy_id), "typed_name": "Delia M.", "seen_sha256": asked.offer_sha256} | changes
    url = reverse("updates:decision-record", args=[scene.job.public_id, asked.pk])
    return owner.post(url, {f"{asked.pk}-{name}": value for name, value in given.items()})


def test_the_link_leads_to_an_address_without_its_token(scene):
    url = "/o/" + make_link(job=scene.job, owner=scene.owner, now=scene.now).split("/o/")[1]

    response = Client().get(url)

    assert response.status_code == 302
    assert response["Location"] == story(scene)


def test_opening_the_link_decides_nothing_however_often(scene):
    url = "/o/" + make_link(job=scene.job, owner=scene.owner, now=scene.now).split("/o/")[1]

    for _ in range(3):
        Client().get(url, follow=True)
        Client().head(url)

    assert not Decision.objects.exists()
    assert ApprovalRequest.objects.open().exists()


def test_nothing_is_chosen_beforehand(owner, scene):
    page = owner.get(story(scene)).content.decode()

    assert 'type="radio"' in page
    assert "checked" not in page


def test_a_yes_is_kept_with_who_when_and_where_from_and_thanked_for(owner, scene):
    response = answer(owner, scene)

    decision = Decision.objects.get()
    assert response.status_code == 302
    assert response["Location"] == reverse("updates:decision-thanks", args=[scene.job.public_id, decision.pk])
    assert (decision.is_approved, decision.typed_name, decision.address) == (True, "Delia M.", "127.0.0.1")
    assert "Thank you, Delia M." in owner.get(response["Location"]).content.decode()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"answer": ""}, "Please choose an answer."),
        ({"answer": "perhaps"}, "Please choose an answer."),
        ({"typed_name": "   "}, "Please type your name."),
        ({"typed_name": "x" * 81}, "80 letters or fewer"),
    ],
)
def test_an_answer_that_is_none_is_sent_back_with_what_was_typed(owner, scene, changes, words):
    response = answer(owner, scene, **changes)

    page = response.content.decode()
    assert response.status_code == 422
    assert words in page
    assert changes.get("typed_name", "Delia M.").strip() in page
    assert not Decision.objects.exists()


def test_an_answer_to_an_offer_that_changed_is_refused_redrawn_and_explained(owner, scene):
    response = answer(owner, scene, seen_sha256="0" * 64)

    page = response.content.decode()
    assert response.status_code == 409
    assert "This changed after you opened it. Please read it again." in page
    assert ApprovalRequest.objects.get().offer_sha256 in page
    assert not Decision.objects.exists()


def test_a_second_answer_is_refused_and_the_first_one_shown(owner, scene):
    answer(owner, scene, answer="decline")

    response = answer(owner, scene)

    page = response.content.decode()
    assert response.status_code == 409
    assert "This has already been answered." in page
    assert "You said no." in page
    assert Decision.objects.get().is_approved is False


def test_two_owners_answer_at_once_and_the_first_counts(owner, scene):
    asked = ApprovalRequest.objects.get()
    first = Answer(asked.remedy, "By phone", scene.owner, Decision.Channel.PHONE, phone="+1 555 0177")
    record_decision(request_id=asked.pk, seen_sha256=asked.offer_sha256, answer=first, by=scene.manager, now=scene.now)

    assert answer(owner, scene, answer="decline").status_code == 409
    assert Decision.objects.get().typed_name == "By phone"


def test_an_answer_is_never_a_get(owner, scene):
    asked = ApprovalRequest.objects.get()

    assert owner.get(reverse("updates:decision-record", args=[scene.job.public_id, asked.pk])).status_code == 405


def test_photos_are_shown_small_and_large_but_never_as_they_came(owner, scene):
    photo = Photo.objects.get()

    def answered(size):
        url = reverse("updates:photo-show", args=[scene.job.public_id, photo.pk, size])
        response = owner.get(url)
        if response.streaming:
            assert b"".join(response.streaming_content).startswith(b"\xff\xd8")  # read to its end, which closes it
        return response.status_code

    assert (answered("small"), answered("large"), answered("original")) == (200, 200, 404)


def test_the_agreed_work_comes_as_a_paper(owner, scene):
    response = owner.get(reverse("updates:revision-paper", args=[scene.job.public_id, 1]))

    assert response["Content-Type"] == "application/pdf"
    assert response.content.startswith(b"%PDF")
    assert owner.get(reverse("updates:revision-paper", args=[scene.job.public_id, 9])).status_code == 404


def test_hostile_words_of_a_technician_are_shown_as_words(scene):
    now = timezone.now()
    find_rot(scene, seen="<script>alert(1)</script>", kind="mould")
    drain(now)
    browser = Client()
    browser.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=now).split("/o/")[1])

    page = browser.get(story(scene)).content.decode()

    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<script>alert" not in page
