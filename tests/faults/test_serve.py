"""`manage.py serve`: everything starts, answers, and is gone after Ctrl-C."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import psutil
import pytest
from django.conf import settings

from shopfloor.management.commands.serve import _static_files_stamp
from tests.support.databases import copy_sqlite_template
from tests.support.services import free_port

ROOT = Path(__file__).resolve().parents[2]
WAIT_SECONDS = 180  # for a loaded machine; nothing waits longer than it takes


@pytest.fixture
def environment(tmp_path_factory):
    taken_away = {"REDIS_URL", "DATABASE_URL", "EMAIL_URL", "SITE_URL"}
    kept = {name: value for name, value in os.environ.items() if name not in taken_away}
    return kept | {"DEMO": "1", "VAR_DIR": str(tmp_path_factory.mktemp("v"))}


@pytest.fixture
def used_before(environment, django_db_setup):
    """As a first start leaves it: database migrated, static files collected. A first start takes long."""
    var_dir = Path(environment["VAR_DIR"])
    copy_sqlite_template(var_dir / "coachwright.sqlite3")
    shutil.copytree(settings.STATIC_ROOT, var_dir / "static")
    (var_dir / "static.stamp").write_text(_static_files_stamp(), encoding="utf-8")
    return environment


def serve(port, environment, *options):
    return subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port), *options],
        cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip


def wait_for_page(process, port):
    deadline = time.monotonic() + WAIT_SECONDS
    while True:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/sign-in/", timeout=60) as answer:
                return answer.status
        except OSError:
            assert process.poll() is None, process.stdout.read()
            assert time.monotonic() < deadline
            time.sleep(0.05)


def test_it_starts_answers_and_leaves_nothing_behind(environment, capsys):
    port = free_port()
    for start in ("first", "second"):
        begun = time.monotonic()
        process = serve(port, environment)
        assert wait_for_page(process, port) == 200
        seconds = time.monotonic() - begun
        children = psutil.Process(process.pid).children(recursive=True)
        assert len(children) >= 4  # broker, web, worker, clock

        process.send_signal(signal.SIGINT)
        printed, _ = process.communicate(timeout=WAIT_SECONDS)

        assert process.returncode == 0, printed
        assert "Stopped." in printed
        assert psutil.wait_procs(children, timeout=30)[1] == []
        with capsys.disabled():
            print(f"\n{start} start to first page: {seconds:.1f} s")


def test_nothing_is_left_when_the_supervisor_itself_is_killed(used_before):
    port = free_port()
    process = serve(port, used_before)
    wait_for_page(process, port)
    children = psutil.Process(process.pid).children(recursive=True)

    process.kill()
    process.communicate(timeout=WAIT_SECONDS)

    assert psutil.wait_procs(children, timeout=30)[1] == []


def test_a_port_in_use_is_said_before_anything_starts(environment):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        process = serve(taken.getsockname()[1], environment)
        printed, _ = process.communicate(timeout=WAIT_SECONDS)

    assert process.returncode != 0
    assert "cannot be used" in printed
    assert not (Path(environment["VAR_DIR"]) / "logs").exists()


def test_a_second_one_on_the_same_data_is_refused(used_before):
    port = free_port()
    process = serve(port, used_before)
    wait_for_page(process, port)

    second = serve(free_port(), used_before)
    printed, _ = second.communicate(timeout=WAIT_SECONDS)
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=WAIT_SECONDS)

    assert second.returncode != 0
    assert f"Already running as process {process.pid}" in printed
    assert process.returncode == 0


def test_a_killed_worker_is_replaced(used_before):
    port = free_port()
    process = serve(port, used_before)
    wait_for_page(process, port)
    worker = running_worker(process)

    worker.kill()
    deadline = time.monotonic() + WAIT_SECONDS
    while (found := running_worker(process)) in {None, worker}:
        assert time.monotonic() < deadline
        time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    printed, _ = process.communicate(timeout=WAIT_SECONDS)

    assert found.pid != worker.pid
    assert "worker ended (killed by SIGKILL); it starts again in 1 s" in printed


def running_worker(process):
    for child in psutil.Process(process.pid).children():
        if child.status() != psutil.STATUS_ZOMBIE and "worker" in child.cmdline():
            return child
    return None


def test_a_demo_whose_loading_was_cut_short_is_loaded_anew_with_its_addresses(used_before):
    var_dir = Path(used_before["VAR_DIR"])
    process = serve(free_port(), used_before, "--demo")
    wait_for(lambda: (var_dir / "demo.half-loaded").exists())
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=WAIT_SECONDS)
    assert (var_dir / "demo.half-loaded").exists()

    port = free_port()
    process = serve(port, used_before, "--demo")
    printed = ""
    while "Logs:" not in printed:  # its last line once it is ready; the test's time limit ends a wait in vain
        printed += (line := process.stdout.readline())
        assert line, printed
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=WAIT_SECONDS)

    assert not (var_dir / "demo.half-loaded").exists()
    for name in ("manager", "technician", "Owner's link", "Mailbox"):
        assert name in printed
    assert f"http://127.0.0.1:{port}/o/" in printed


def wait_for(is_so, seconds=WAIT_SECONDS):
    deadline = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < deadline
        time.sleep(0.1)
