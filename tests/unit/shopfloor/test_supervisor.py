"""The supervisor with small processes instead of servers."""

import os
import signal
import sys
import time

import psutil
import pytest

from shopfloor.supervisor import MAX_PAUSE_SECONDS, Child, Supervisor

SLEEPS = "import time; print('up', flush=True); time.sleep(60)"
DEAF = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('up', flush=True); time.sleep(60)"
STARTS_ANOTHER = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {SLEEPS!r}])"


@pytest.fixture
def said():
    return []


@pytest.fixture
def supervisor(said):
    made = Supervisor(say=said.append)
    yield made
    for child in made.children:
        child.kill()


@pytest.fixture
def child(tmp_path):
    def make(script, name="part", **more):
        return Child(name, [sys.executable, "-c", script], dict(os.environ), tmp_path, tmp_path / f"{name}.log", **more)

    return make


def wait_until(is_so):
    deadline = time.monotonic() + 10
    while not is_so():
        assert time.monotonic() < deadline
        time.sleep(0.01)


def is_up(child):
    return "up" in child.log_path.read_text()


def test_a_child_that_dies_is_started_again_after_its_pause(supervisor, child, said):
    part = supervisor.add(child(SLEEPS))
    wait_until(lambda: is_up(part))
    first = part.process.pid
    os.kill(first, signal.SIGKILL)
    wait_until(lambda: not part.is_running())

    supervisor.look(100.0)
    assert not part.is_running()
    assert "part ended (killed by SIGKILL); it starts again in 1 s" in said[0]
    supervisor.look(100.9)
    assert not part.is_running()
    supervisor.look(101.0)
    assert part.is_running()
    assert part.process.pid != first


def test_the_pause_doubles_up_to_a_limit(child):
    part = child(SLEEPS)
    part.started = time.monotonic()

    pauses = [part.pause_seconds() for _ in range(7)]

    assert pauses == [1, 2, 4, 8, 16, MAX_PAUSE_SECONDS, MAX_PAUSE_SECONDS]


def test_after_a_steady_minute_the_pause_begins_from_the_front(child):
    part = child(SLEEPS, deaths=5)
    part.started = time.monotonic() - 61

    assert part.pause_seconds() == 1


def test_errors_and_their_tracebacks_are_shown_and_nothing_else(supervisor, child, said):
    log = "\n".join(
        [
            "2026-03-02 10:00:00,000 INFO web fine",
            "2026-03-02 10:00:01,000 ERROR web broken",
            "Traceback (most recent call last):",
            "ValueError: no",
            "2026-03-02 10:00:02,000 INFO web fine again",
            "[2026-03-02 10:00:03 +0000] [7] [ERROR] Worker timeout",
            "[2026-03-02 10:00:04 +0000] [7] [INFO] Booting",
        ]
    )
    part = supervisor.add(child(f"import time; print({log!r}, flush=True); time.sleep(60)"))
    wait_until(lambda: "Booting" in part.log_path.read_text())

    supervisor.look(0.0)
    supervisor.look(0.0)

    assert [line.split(" | ")[1] for line in said] == [
        "2026-03-02 10:00:01,000 ERROR web broken",
        "Traceback (most recent call last):",
        "ValueError: no",
        "[2026-03-02 10:00:03 +0000] [7] [ERROR] Worker timeout",
    ]


def test_all_are_stopped_the_last_started_first(supervisor, child):
    stopped = []

    class Noted(Child):
        def stop(self):
            stopped.append(self.name)
            return super().stop()

    for name in ("broker", "web"):
        part = child(SLEEPS, name)
        part.__class__ = Noted
        supervisor.add(part)

    supervisor.stop_all()

    assert stopped == ["web", "broker"]
    assert not any(part.is_running() for part in supervisor.children)


def test_one_that_does_not_listen_is_killed_and_named(supervisor, child, said):
    part = supervisor.add(child(DEAF, grace_seconds=0.2))
    wait_until(lambda: is_up(part))

    supervisor.stop_all()

    assert not part.is_running()
    assert "part did not stop" in said[0]


def test_what_a_child_started_itself_does_not_outlive_it(supervisor, child):
    part = supervisor.add(child(STARTS_ANOTHER))
    wait_until(lambda: is_up(part))
    [grandchild] = psutil.Process(part.process.pid).children()

    supervisor.stop_all()

    assert psutil.wait_procs([grandchild], timeout=5)[1] == []


def test_nothing_is_started_again_while_stopping(supervisor, child):
    part = supervisor.add(child("raise SystemExit(3)"))
    wait_until(lambda: not part.is_running())
    supervisor.look(0.0)
    supervisor.stop_all()

    supervisor.look(1000.0)

    assert not part.is_running()
