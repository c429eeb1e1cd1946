"""Whose address a request is taken to come from."""

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from shopfloor.middleware import client_address

PROXY = "10.0.0.1"


def address_seen(forwarded):
    request = RequestFactory().get("/", REMOTE_ADDR=PROXY, headers={"X-Forwarded-For": forwarded})
    client_address(lambda each: HttpResponse(each.META["REMOTE_ADDR"]))(request)
    return request.META["REMOTE_ADDR"]


@pytest.mark.parametrize(
    ("forwarded", "seen"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("2001:db8::7", "2001:db8::7"),
        ("198.51.100.1, 192.0.2.7", "192.0.2.7"),  # the first is what the client claimed
        ("192.0.2.7, nonsense", PROXY),
        ("", PROXY),
    ],
)
def test_behind_the_proxy_the_address_it_saw_counts(settings, forwarded, seen):
    settings.BEHIND_PROXY = True

    assert address_seen(forwarded) == seen


def test_without_a_proxy_the_header_is_only_a_claim(settings):
    settings.BEHIND_PROXY = False

    assert address_seen("192.0.2.7") == PROXY
