"""What every test may use. Start the suite with `make test`, or one part with `make test-sqlite ARGS=tests/unit`."""

import gc
import os
from collections.abc import Iterator

import pytest
from pytest_django import DjangoDbBlocker

from tests.support import environment

FOLDER = environment.prepare()  # first: Django's settings read the environment

import django  # noqa: E402
from django.conf import settings  # noqa: E402
from django.core.management import call_command  # noqa: E402

django.setup()

from tests.support import databases  # noqa: E402

pytest_plugins = ["tests.support.fixtures", "tests.support.loop", "tests.support.worlds"]

ORDER = ["unit", "reference", "integration", "benchmarks", "browser", "faults"]
DATABASE_FIXTURES = {"db", "transactional_db", "live_server", "stack", "stack_maker"}
# What takes seconds here and proves nothing. Stacks are processes of their own: they hash as in service, and
# tests/faults/test_serve.py collects the static files as in service.
settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher", *settings.PASSWORD_HASHERS]
settings.STORAGES = settings.STORAGES | {
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.ManifestStaticFilesStorage"}  # not pressed
}
settings.MIDDLEWARE = [name for name in settings.MIDDLEWARE if not name.startswith("whitenoise.")]  # lists all files


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--touching-database", action="store_true", help="leave out what is the same on every database")


def pytest_report_header() -> str:
    return f"database: {settings.DATABASES['default']['ENGINE'].rpartition('.')[2]}, CI: {os.environ.get('CI', 'no')}"


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Slow tests last, so that a broken rule shows early."""

    def rank(item: pytest.Item) -> int:
        return next((number for number, name in enumerate(ORDER) if f"/{name}/" in str(item.path)), 0)

    items.sort(key=rank)
    if config.getoption("--touching-database"):
        config.hook.pytest_deselected(items=[item for item in items if not _touches_database(item)])
        items[:] = [item for item in items if _touches_database(item)]


def _touches_database(item: pytest.Item) -> bool:
    if item.get_closest_marker("one_database"):
        return False
    return item.get_closest_marker("django_db") is not None or bool(DATABASE_FIXTURES & set(item.fixturenames))


def pytest_sessionstart() -> None:
    """Pages link to hashed names, which this makes; after Django is set up, before any test."""
    call_command("collectstatic", interactive=False, verbosity=0)


def pytest_collection_finish() -> None:
    """What is loaded by now stays to the end: looking through it again and again takes a twentieth of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item):
    """Beside a failure stands what the processes of its stack wrote."""
    report = yield
    if report.failed:
        for value in getattr(item, "funcargs", {}).values():
            if callable(logs := getattr(value, "logs", None)):
                report.sections.append(("stack logs", logs()))
    return report


def pytest_terminal_summary(terminalreporter) -> None:
    """For the runner's list of what was not run."""
    lines = set()
    for report in terminalreporter.stats.get("skipped", []):
        reason = report.longrepr[2].removeprefix("Skipped: ").removeprefix("NOT RUN: ")
        lines.add(f"{report.nodeid.partition('::')[0]}: {reason}")
    if lines:
        (FOLDER / "not-run.txt").write_text("\n".join(sorted(lines)) + "\n", encoding="utf-8")


@pytest.fixture(scope="session")
def django_db_setup(django_test_environment: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    made = databases.made_database()
    with django_db_blocker.unblock():
        made.__enter__()
    yield
    with django_db_blocker.unblock():
        made.__exit__(None, None, None)


@pytest.fixture(autouse=True)
def _own_media_folder(tmp_path, settings) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"
