"""What the project promises about itself: its variables, its compose file, its top level."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.environment import OTHERS, SERVERS

ROOT = Path(__file__).resolve().parents[2]
SETTINGS = (ROOT / "shopfloor" / "settings.py").read_text(encoding="utf-8")
EXAMPLE = (ROOT / ".env.example").read_text(encoding="utf-8")
COMPOSE = (ROOT / "docker-compose.yml").read_text(encoding="utf-8")
READ = set(re.findall(r'env_(?:text|bool|list)\("([A-Z_]+)"', SETTINGS))
NAMED = set(re.findall(r"^([A-Z_]+)=", EXAMPLE, re.MULTILINE))
PRODUCTION = {
    "SECRET_KEY": "x" * 60,
    "SITE_URL": "https://shop.example",
    "ALLOWED_HOSTS": "shop.example",
    "DATABASE_URL": "postgresql://nobody@localhost/none",
    "REDIS_URL": "redis://localhost",
    "EMAIL_URL": "smtp://localhost",
    "MAIL_FROM": "desk@shop.example",
}


def import_settings(**environment):
    given = {"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT)} | environment
    return subprocess.run(
        [sys.executable, "-c", "import shopfloor.settings"],
        cwd="/",
        env=given,
        capture_output=True,
        text=True,
        check=False,
    )


def test_every_variable_that_settings_read_is_in_the_example():
    assert len(READ) >= 12
    assert READ <= NAMED


def test_every_variable_that_compose_names_is_in_the_example():
    assert set(re.findall(r"\$\{([A-Z_]+)", COMPOSE)) <= NAMED


def test_compose_runs_every_part():
    services = re.findall(r"^  ([a-z]+):$", COMPOSE.partition("services:")[2].partition("\nvolumes:")[0], re.MULTILINE)

    assert set(services) == {"postgres", "redis", "migrate", "web", "worker", "beat"}


def test_the_example_gives_no_secret():
    empty = {line.rstrip("=") for line in EXAMPLE.splitlines() if re.fullmatch(r"[A-Z_]+=", line)}

    assert {"SECRET_KEY", "POSTGRES_PASSWORD", "EMAIL_URL"} <= empty


def test_settings_work_when_all_is_given(tmp_path):
    done = import_settings(**PRODUCTION, VAR_DIR=str(tmp_path), DJANGO_SETTINGS_MODULE="shopfloor.settings")

    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("missing", sorted(PRODUCTION.keys() - {"ALLOWED_HOSTS"}))
def test_settings_stop_and_say_which_variable_is_missing(missing, tmp_path):
    given = {name: value for name, value in PRODUCTION.items() if name != missing}

    done = import_settings(**given, VAR_DIR=str(tmp_path), DJANGO_SETTINGS_MODULE="shopfloor.settings")

    assert done.returncode != 0
    assert f"Set {missing}" in done.stderr


def test_a_variable_left_empty_counts_as_missing(tmp_path):
    given = PRODUCTION | {"SITE_URL": "", "VAR_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "shopfloor.settings"}

    done = import_settings(**given)

    assert done.returncode != 0
    assert "Set SITE_URL" in done.stderr


def test_every_variable_that_the_runner_clears_is_one_that_settings_read():
    assert set(SERVERS + OTHERS) <= READ


def test_the_top_level_is_what_was_agreed():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split(
        "\n"
    )
    top = {name.split("/")[0] for name in tracked if name and not name.startswith((".", '".'))}

    assert top == {
        "README.md", "DEVELOPERS.md", "manage.py", "requirements.txt", "shopfloor", "jobs", "updates", "estimates",
        "static", "templates", "tests", "docker-compose.yml", "Makefile",
    }  # fmt: skip


def test_every_direct_dependency_says_what_for():
    for name in ("requirements.txt", "tests/requirements.txt"):
        direct = (ROOT / name).read_text(encoding="utf-8").partition("# What those bring along")[0]
        pins = [line for line in direct.splitlines() if "==" in line]
        assert pins
        assert all("  # " in line for line in pins), name
