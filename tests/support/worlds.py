"""Rows made once for all tests of a file.

A file asks the fixture `keeper` once, and each of its tests takes a fresh copy of what was made:

    @pytest.fixture(scope="module")
    def kept(keeper):
        return keeper(opened_coach, NOON)

    @pytest.fixture
    def scene(kept):
        return kept()

The rows stand in a transaction around the file's tests; each test runs in a savepoint of its own, which takes back
whatever it changed. Not for a file with transactional tests: those empty the tables.
"""

import copy
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.core import mail
from django.db import transaction
from django.test import override_settings
from pytest_django import DjangoDbBlocker

from tests.factories import NOON
from tests.scenes import opened_coach

Keeper = Callable[..., Callable[[], Any]]


@pytest.fixture(scope="module")
def keeper(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Keeper]:
    """keeper(build, ...) calls build(...) and returns what hands out copies of its result."""
    media = Path(tmp_path_factory.mktemp("kept"))
    around = transaction.atomic()
    around._from_testcase = True  # like a test's own: inside it, code may still ask for the outermost transaction

    def keep(build: Callable[..., Any], *args: Any, **kwargs: Any) -> Callable[[], Any]:
        with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=media):
            mail.outbox.clear()
            made = build(*args, **kwargs)
            letters = list(mail.outbox)

        def hand_out() -> Any:
            mail.outbox.extend(letters)
            shutil.copytree(media, settings.MEDIA_ROOT, dirs_exist_ok=True)
            return copy.deepcopy(made)

        return hand_out

    with django_db_blocker.unblock():
        around.__enter__()
    yield keep
    with django_db_blocker.unblock():
        transaction.set_rollback(True)
        around.__exit__(None, None, None)


@pytest.fixture(scope="module")
def kept_coach(keeper: Keeper) -> Callable[[], Any]:
    """Hands out an opened coach as it stands at NOON."""
    with time_machine.travel(NOON, tick=False):
        return keeper(opened_coach, NOON)
