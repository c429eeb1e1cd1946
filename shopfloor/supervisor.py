"""Keeps the processes of one machine running, restarts the dead, ends all in order. Knows nothing of Django."""

import contextlib
import ctypes
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

MAX_LOG_BYTES = 5_000_000
MAX_PAUSE_SECONDS = 30.0
STEADY_SECONDS = 60.0
LAST_LINES = 15
TRACEBACK_LINES = 40
ERROR_LINE = re.compile(r"\b(ERROR|CRITICAL)\b|^Traceback ")
# A line of a new message: a timestamp, bare or in brackets. Anything else goes on with the message before.
NEW_MESSAGE = re.compile(r"^\[?\d{4}-\d\d-\d\d[ T]")
PR_SET_PDEATHSIG = 1

# Loaded before any fork: the child of a fork may only do simple things.
_libc = ctypes.CDLL(None, use_errno=True) if sys.platform == "linux" else None


def die_with_parent() -> None:
    """For preexec_fn: on Linux the kernel ends this process when the supervisor is gone, even by kill -9."""
    if _libc is not None:
        _libc.prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


@dataclass
class Child:
    """One process with its own session, so that Ctrl-C reaches the supervisor alone and it ends all in order."""

    name: str
    command: list[str]
    env: dict[str, str]
    cwd: Path
    log_path: Path
    grace_seconds: float = 10.0
    process: subprocess.Popen[bytes] | None = None
    started: float = 0.0
    deaths: int = 0
    restart_at: float | None = None
    _shown: int = 0
    _lines_to_show: int = 0

    def start(self) -> None:
        self.log_path.parent.mkdir(parents=True, exist_ok=True)
        if self.log_path.exists() and self.log_path.stat().st_size > MAX_LOG_BYTES:
            self.log_path.replace(self.log_path.with_suffix(".log.old"))
        with self.log_path.open("ab") as log:
            self._shown = log.tell()
            self.process = subprocess.Popen(  # noqa: S603 - the commands are ours
                self.command,
                env=self.env,
                cwd=self.cwd,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                preexec_fn=die_with_parent,
            )
        self.started = time.monotonic()
        self.restart_at = None

    def is_running(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def stop(self) -> bool:
        """Ask, wait, then insist; the whole group, so that no grandchild is left. False if it had to be killed."""
        if self.process is None:
            return True
        self.process.terminate()
        ended = False
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(self.grace_seconds)
            ended = True
        self.kill()
        return ended

    def kill(self) -> None:
        if self.process is not None:
            self.strike()
            self.process.wait()

    def strike(self) -> None:
        """Kill the whole group without waiting: safe inside a signal handler."""
        if self.process is None:
            return
        # No group any more: all of it has ended by itself.
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(self.process.pid, signal.SIGKILL)

    def pause_seconds(self) -> float:
        """How long to wait before the next start: 1, 2, 4 ... seconds, from the front again after a steady minute."""
        self.deaths = 1 if time.monotonic() - self.started > STEADY_SECONDS else self.deaths + 1
        return min(2.0 ** (self.deaths - 1), MAX_PAUSE_SECONDS)

    def last_words(self) -> str:
        """The end of what it wrote, for the terminal."""
        lines = self.log_path.read_text(encoding="utf-8", errors="replace").splitlines()
        return "\n".join(f"  {self.name} | {line}" for line in lines[-LAST_LINES:])

    def new_errors(self) -> list[str]:
        """Lines of the log that tell of an error and have not been shown yet."""
        with self.log_path.open("rb") as log:
            log.seek(self._shown)
            written = log.read()
        complete = written[: written.rfind(b"\n") + 1]
        self._shown += len(complete)
        return [line for line in complete.decode(errors="replace").splitlines() if self._is_of_an_error(line)]

    def _is_of_an_error(self, line: str) -> bool:
        if ERROR_LINE.search(line):
            self._lines_to_show = TRACEBACK_LINES
        elif NEW_MESSAGE.match(line):
            self._lines_to_show = 0
        self._lines_to_show -= 1
        return self._lines_to_show >= 0


@dataclass
class Supervisor:
    """Children in the order of their start; they are stopped in the opposite order."""

    say: Callable[[str], None]
    children: list[Child] = field(default_factory=list)
    is_stopping: bool = False

    def add(self, child: Child) -> Child:
        self.children.append(child)
        child.start()
        return child

    def look(self, now: float) -> None:
        """Show new errors, notice deaths, start again whoever's pause is over."""
        for child in self.children:
            for line in child.new_errors():
                self.say(f"  {child.name} | {line}")
            if child.is_running():
                continue
            if child.restart_at is None:
                self._notice_death(child, now)
            elif now >= child.restart_at and not self.is_stopping:
                child.start()

    def stop_all(self) -> None:
        self.is_stopping = True
        for child in reversed(self.children):
            if not child.stop():
                self.say(f"{child.name} did not stop within {child.grace_seconds:.0f} s and was killed.")

    def _notice_death(self, child: Child, now: float) -> None:
        pause_seconds = child.pause_seconds()
        child.restart_at = now + pause_seconds
        code = child.process.returncode if child.process else None
        self.say(f"{child.name} ended ({_how(code)}); it starts again in {pause_seconds:.0f} s. Its last lines:")
        self.say(child.last_words())


def _how(code: int | None) -> str:
    if code is not None and code < 0:
        return f"killed by {signal.Signals(-code).name}"
    return f"exit code {code}"
