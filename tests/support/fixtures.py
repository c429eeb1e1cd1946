"""Fixtures for tests of the whole: a mail server, the running stack, a browser."""

import contextlib
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, expect, sync_playwright

from tests.support.mail import MailServer, serving
from tests.support.services import chromium, free_port
from tests.support.stack import Stack, running_stack

BROWSER_FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
]  # fmt: skip
# As long as a page may take to come on a loaded machine; whatever is there at once does not wait for it.
PATIENCE_MS = 60_000


@pytest.fixture
def mail_server() -> Iterator[MailServer]:
    server = MailServer(free_port())
    with serving(server):
        yield server


# The stacks' databases are copies of the test database, so that must have been made.


@pytest.fixture
def stack(django_db_setup: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stack]:
    """The product with a web server; the test starts worker and beat once its scene is set."""
    with running_stack(Path(tmp_path_factory.mktemp("s"))) as started:
        yield started


@pytest.fixture(scope="session")
def stack_maker(
    django_db_setup: None, tmp_path_factory: pytest.TempPathFactory
) -> Callable[..., contextlib.AbstractContextManager[Stack]]:
    """Makes a stack without worker and beat, for tests that share one (see Stack.keep)."""
    return lambda **how: running_stack(Path(tmp_path_factory.mktemp("s")), **how)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    program = chromium()
    if program is None:
        pytest.skip("NOT RUN: no Chromium on this machine")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"  # playwright's loop runs in this thread
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=program, args=BROWSER_FLAGS, timeout=3 * PATIENCE_MS)
        started.profiles = {"phone": driver.devices["Pixel 7"], "desktop": {"viewport": {"width": 1440, "height": 900}}}
        yield started
        started.close()


def _is_complaint(message: ConsoleMessage) -> bool:
    # The browser notes a refused form as a failed load; the tests of refusals check the status themselves.
    return message.type == "error" and "status of 422" not in message.text


@pytest.fixture
def page_maker(browser: Browser) -> Iterator[Callable[..., Page]]:
    """New pages by profile; an error on a console or in a script fails the test."""
    contexts, complaints = [], []

    def make(profile: str = "desktop", *, javascript: bool = True) -> Page:
        context = browser.new_context(**browser.profiles[profile], java_script_enabled=javascript)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.on("console", lambda message: complaints.append(message.text) if _is_complaint(message) else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        return page

    yield make
    for context in contexts:
        context.close()
    assert complaints == []
