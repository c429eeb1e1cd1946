"""What every test may use. Start the suite with `make test`, or one part with `make test-sqlite ARGS=tests/unit`."""

import os

import pytest
from django.conf import settings
from django.core.management import call_command

pytest_plugins = ["tests.support.fixtures"]


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: pytest.FixtureRequest) -> None:
    """The cache lives in a table of its own, which no migration makes."""
    with django_db_blocker.unblock():
        call_command("createcachetable")


@pytest.fixture(autouse=True)
def _own_media_folder(tmp_path, settings) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


def pytest_report_header() -> str:
    return f"database: {settings.DATABASES['default']['ENGINE'].rpartition('.')[2]}, CI: {os.environ.get('CI', 'no')}"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Slow tests last, so that a broken rule shows early."""
    order = ["unit", "reference", "integration", "benchmarks", "browser", "faults"]

    def rank(item: pytest.Item) -> int:
        return next((number for number, name in enumerate(order) if f"/{name}/" in str(item.path)), 0)

    items.sort(key=rank)
