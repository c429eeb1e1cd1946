"""The running product with one coach opened up, and two people who sign in: for tests of the whole in a browser."""

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.support.stack import Stack

PASSWORD = "copper-rivet-larch"


@pytest.fixture(scope="module")
def opened_stack(stack_maker: Any) -> Iterator[Stack]:
    """With one coach in its bay; the technician signs in as "tech", the manager as "boss"."""
    with stack_maker() as stack:
        stack.python(
            "from django.utils import timezone; from tests.scenes import opened_coach\n"
            "scene = opened_coach(timezone.now())\n"
            "for person, name in ((scene.technician, 'tech'), (scene.manager, 'boss')):\n"
            f"    person.username = name; person.set_password('{PASSWORD}'); person.save()\n"
        )
        stack.keep()
        yield stack


@pytest.fixture
def opened_shop(opened_stack: Stack) -> Stack:
    """As it stood when the coach was opened up, with worker and beat running."""
    opened_stack.begin_again()
    opened_stack.start_worker()
    opened_stack.start_beat()
    return opened_stack


def sign_in(page: Page, stack: Stack, name: str) -> None:
    page.goto(f"{stack.url}/sign-in/")
    page.get_by_label("Name").or_(page.locator("[name=username]")).first.fill(name)
    page.locator("[name=password]").fill(PASSWORD)
    page.locator("main button[type=submit]").click()
    page.wait_for_url(lambda url: "/sign-in/" not in url)  # going on at once would cut it short
