"""Signing in and out, and the lock on the door."""

import pytest
from django.urls import reverse

from tests.factories import PASSWORD, PersonFactory

pytestmark = pytest.mark.django_db

SIGN_IN = "/sign-in/"


def sign_in(client, username, password, address="192.0.2.1", **extra):
    return client.post(SIGN_IN, {"username": username, "password": password, **extra}, REMOTE_ADDR=address)


def test_a_technician_signs_in_and_comes_to_the_bays(client):
    person = PersonFactory()

    response = sign_in(client, person.username, PASSWORD)

    assert response.status_code == 302
    assert response.url == reverse("jobs:start")
    assert client.get(response.url).status_code == 200


def test_signing_in_leads_on_to_the_page_that_was_asked_for(client):
    person = PersonFactory()

    response = sign_in(client, person.username, PASSWORD, next="/shop/jobs/7/")

    assert response.url == "/shop/jobs/7/"


def test_signing_in_never_leads_to_another_site(client):
    person = PersonFactory()

    response = sign_in(client, person.username, PASSWORD, next="https://elsewhere.example/")

    assert response.url == reverse("jobs:start")


def test_the_sign_in_page_is_open_to_strangers(client):
    response = client.get(SIGN_IN)

    assert response.status_code == 200
    assert b"Sign in" in response.content


def test_a_stranger_is_sent_to_sign_in(client):
    response = client.get(reverse("jobs:start"))

    assert response.status_code == 302
    assert response.url == "/sign-in/?next=/"


def test_a_wrong_password_is_refused_with_the_name_kept(client):
    person = PersonFactory()

    response = sign_in(client, person.username, "wrong")

    assert response.status_code == 422
    assert person.username.encode() in response.content
    assert b"do not fit together" in response.content
    assert "_auth_user_id" not in client.session


def test_the_refusal_does_not_tell_whether_the_account_exists(client):
    known = PersonFactory(username="imani")
    off = PersonFactory(username="lou", is_active=False)

    said = [sign_in(client, name, "wrong").context["form"].non_field_errors() for name in ("imani", "lou", "nobody")]

    assert said[0] == said[1] == said[2]
    assert known.is_active
    assert not off.is_active


def test_ten_failures_close_an_account_for_a_while_even_to_the_right_password(client):
    person = PersonFactory()
    for number in range(10):
        assert sign_in(client, person.username, "wrong", f"192.0.2.{number}").status_code == 422

    response = sign_in(client, person.username, PASSWORD, "198.51.100.9")

    assert response.status_code == 429
    assert b"Too many tries" in response.content
    assert "_auth_user_id" not in client.session


def test_ten_failures_close_a_name_that_nobody_has_just_the_same(client):
    for number in range(10):
        sign_in(client, "nobody", "wrong", f"192.0.2.{number}")

    assert sign_in(client, "nobody", "wrong", "198.51.100.9").status_code == 429


def test_writing_the_name_in_capitals_does_not_give_more_tries(client):
    for number in range(10):
        sign_in(client, "nobody" if number % 2 else "NOBODY", "wrong", f"192.0.2.{number}")

    assert sign_in(client, "Nobody", "wrong", "198.51.100.9").status_code == 429


def test_thirty_failures_close_an_address_for_every_account(client):
    person = PersonFactory()
    for number in range(30):
        sign_in(client, f"guess{number}", "wrong", "192.0.2.77")

    assert sign_in(client, person.username, PASSWORD, "192.0.2.77").status_code == 429
    assert sign_in(client, person.username, PASSWORD, "192.0.2.78").status_code == 302


def test_a_forwarding_header_does_not_change_the_address_that_is_counted(client):
    for number in range(30):
        client.post(
            SIGN_IN,
            {"username": f"guess{number}", "password": "wrong"},
            REMOTE_ADDR="192.0.2.77",
            headers={"X-Forwarded-For": f"203.0.113.{number}"},
        )

    response = sign_in(client, "another", "wrong", "192.0.2.77")

    assert response.status_code == 429


def test_the_account_opens_again_after_ten_minutes(client, time_machine):
    person = PersonFactory()
    time_machine.move_to("2026-03-04T18:00:00Z", tick=False)
    for number in range(10):
        sign_in(client, person.username, "wrong", f"192.0.2.{number}")
    assert sign_in(client, person.username, PASSWORD).status_code == 429

    time_machine.move_to("2026-03-04T18:10:01Z", tick=False)

    assert sign_in(client, person.username, PASSWORD).status_code == 302


def test_signing_in_frees_the_tries_of_the_account(client):
    person = PersonFactory()
    for number in range(9):
        sign_in(client, person.username, "wrong", f"192.0.2.{number}")
    sign_in(client, person.username, PASSWORD)
    client.logout()

    response = sign_in(client, person.username, "wrong", "192.0.2.99")

    assert response.status_code == 422


def test_the_register_has_the_same_lock(client):
    PersonFactory(username="chief", is_staff=True, is_superuser=True)
    for number in range(10):
        sign_in(client, "chief", "wrong", f"192.0.2.{number}")

    response = client.post(reverse("admin:login"), {"username": "chief", "password": PASSWORD})

    assert b"Too many tries" in response.content
    assert "_auth_user_id" not in client.session


def test_signing_out_is_a_post_and_ends_the_session(client):
    client.force_login(PersonFactory())

    response = client.post(reverse("jobs:sign-out"))

    assert response.url == SIGN_IN
    assert client.get(reverse("jobs:start")).status_code == 302


@pytest.mark.parametrize(("method", "name"), [("get", "sign-out"), ("put", "sign-out"), ("put", "sign-in")])
def test_other_methods_are_refused(client, method, name):
    if name == "sign-out":
        client.force_login(PersonFactory())

    assert getattr(client, method)(reverse(f"jobs:{name}")).status_code == 405
