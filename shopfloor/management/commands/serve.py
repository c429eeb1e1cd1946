"""`manage.py serve`: everything the shop needs on one machine, in one terminal, until Ctrl-C."""

import contextlib
import fcntl
import hashlib
import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import time
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import django
from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connections

from jobs.models import Shop
from shopfloor import embedded
from shopfloor.supervisor import Child, Supervisor, die_with_parent

START_SECONDS = 60.0
BROKER_SECONDS = 10.0
LOOK_SECONDS = 0.25
WEB_GRACE_SECONDS = 10.0
# A task that is not through by then is taken up again after the next start: the row is the queue.
WORKER_GRACE_SECONDS = 20.0
BROKER_GRACE_SECONDS = 5.0
# Lies in VAR_DIR while the demo is being loaded.
HALF_LOADED = "demo.half-loaded"
LOCAL_ADDRESS = re.compile(r"http://(127\.0\.0\.1|localhost):\d+")


class _Stopped(BaseException):
    """Ctrl-C or SIGTERM. Not an Exception, so that nothing on the way takes it for a failure."""


class Command(BaseCommand):
    help = "Serve everything on this machine: broker, web, worker and clock. Ctrl-C stops them all."
    requires_system_checks: list[str] = []  # migrate checks soon after

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: this machine only)")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--demo", action="store_true", help="load the invented shop if there is none yet")

    def handle(self, *args: Any, host: str, port: int, demo: bool, **options: Any) -> None:
        began = time.monotonic()
        os.chdir(settings.BASE_DIR)  # a deep checkout reaches its socket through the working folder
        _check_port_is_free(host, port)
        with _only_one(settings.VAR_DIR):
            self.supervisor = Supervisor(say=self._say)
            self.env = _environment(host, port)
            try:
                self._watch_signals()
                self._prepare(demo=demo)
                self._start_processes(host, port)
                self._wait_for_first_page(host, port)
                self._say(self._welcome(time.monotonic() - began))
                self._keep_running()
            except _Stopped:
                self._say("\nStopping ...")
            finally:
                self.supervisor.stop_all()
            self._say("Stopped.")

    def _watch_signals(self) -> None:
        def stop(number: int, frame: FrameType | None) -> None:
            if not self.supervisor.is_stopping:
                self.supervisor.is_stopping = True
                raise _Stopped
            for child in self.supervisor.children:  # asked twice: at once
                child.strike()

        signal.signal(signal.SIGINT, stop)
        signal.signal(signal.SIGTERM, stop)
        signal.signal(signal.SIGHUP, stop)  # the terminal was closed

    def _prepare(self, *, demo: bool) -> None:
        if "REDIS_URL" not in os.environ and "REDIS_URL_FILE" not in os.environ:
            self._start_broker()
        if demo:
            _forget_half_a_demo()
        call_command("migrate", verbosity=0, interactive=False)
        call_command("createcachetable", verbosity=0)
        self._collect_static_files()
        has_shop = Shop.objects.exists()
        connections.close_all()
        self.first_words = ""
        if demo and not has_shop:
            self._say("Loading the invented shop ...")
            self.first_words = self._load_demo()

    def _start_broker(self) -> None:
        try:
            program = embedded.find_server()
            path = embedded.socket_path(settings.VAR_DIR)
        except embedded.NoBroker as error:
            raise CommandError(str(error)) from error
        folder = embedded.prepare_folder(settings.VAR_DIR)
        broker = self._add("broker", embedded.server_command(program), cwd=folder, grace_seconds=BROKER_GRACE_SECONDS)
        if not embedded.wait_until_it_answers(path, timeout_seconds=BROKER_SECONDS):
            raise CommandError(f"The broker {program} does not answer.\n{broker.last_words()}")

    def _collect_static_files(self) -> None:
        stamp_path = settings.VAR_DIR / "static.stamp"
        stamp = _static_files_stamp()
        if stamp_path.exists() and stamp_path.read_text(encoding="utf-8") == stamp:
            return
        call_command("collectstatic", verbosity=0, interactive=False, clear=Path(settings.STATIC_ROOT).exists())
        stamp_path.write_text(stamp, encoding="utf-8")

    def _load_demo(self) -> str:
        """In a process of its own: it writes links with the SITE_URL of this port."""
        half_loaded = settings.VAR_DIR / HALF_LOADED
        half_loaded.touch()
        done = subprocess.run(
            [sys.executable, "manage.py", "load_demo"],
            env=self.env,
            cwd=settings.BASE_DIR,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
            preexec_fn=die_with_parent,
        )
        if done.returncode != 0:
            raise CommandError(f"The invented shop could not be loaded:\n{done.stdout}{done.stderr}")
        half_loaded.unlink()
        return done.stdout

    def _start_processes(self, host: str, port: int) -> None:
        python = [sys.executable, "-m"]
        self._add(
            "worker",
            [*python, "celery", "-A", "shopfloor", "worker", "-c", "2", "--loglevel", "INFO"],
            grace_seconds=WORKER_GRACE_SECONDS,
        )
        self._add(
            "clock",
            # The scheduler in memory: the default one keeps a file that breaks when the power goes.
            [*python, "celery", "-A", "shopfloor", "beat", "--scheduler", "celery.beat.Scheduler", "--pidfile", ""],
        )
        self._add(
            "web",
            [
                *(*python, "gunicorn", "-w", "2", "--threads", "16", "--timeout", "60"),
                # Its control socket would lie in the home folder.
                *("--no-control-socket", "--bind", f"{_bracketed(host)}:{port}", "shopfloor.wsgi"),
            ],
            grace_seconds=WEB_GRACE_SECONDS,
        )

    def _add(self, name: str, command: list[str], *, cwd: Path | None = None, grace_seconds: float = 5.0) -> Child:
        log_path = settings.VAR_DIR / "logs" / f"{name}.log"
        return self.supervisor.add(
            Child(name, command, self.env, cwd or settings.BASE_DIR, log_path, grace_seconds=grace_seconds)
        )

    def _wait_for_first_page(self, host: str, port: int) -> None:
        deadline = time.monotonic() + START_SECONDS
        while time.monotonic() < deadline:
            self.supervisor.look(time.monotonic())
            status = _first_page_status(host, port)
            if status is not None and status < 500:
                return
            time.sleep(0.05)
        words = "\n".join(child.last_words() for child in self.supervisor.children)
        raise CommandError(f"The first page did not come within {START_SECONDS:.0f} s.\n{words}")

    def _welcome(self, seconds: float) -> str:
        site_url = self.env.get("SITE_URL", settings.SITE_URL)
        path = settings.VAR_DIR / "addresses.txt"
        addresses = path.read_text(encoding="utf-8") if path.exists() else self.first_words
        lines = [
            "",
            f"Ready in {seconds:.1f} s at {site_url}",
            *([LOCAL_ADDRESS.sub(site_url, addresses).rstrip()] if settings.DEMO and addresses else []),
            f"Logs: {settings.VAR_DIR / 'logs'}   Ctrl-C stops everything.",
        ]
        return "\n".join(lines)

    def _keep_running(self) -> None:
        while True:
            self.supervisor.look(time.monotonic())
            time.sleep(LOOK_SECONDS)

    def _say(self, text: str) -> None:
        # A closed terminal must not keep the processes from being stopped.
        with contextlib.suppress(OSError):
            self.stdout.write(text)
            self.stdout.flush()


def _environment(host: str, port: int) -> dict[str, str]:
    env = dict(os.environ)
    env["PYTHONUNBUFFERED"] = "1"
    # The papers' font library keeps a cache: not in the home folder.
    env.setdefault("XDG_CACHE_HOME", str(settings.VAR_DIR / "cache"))
    if settings.DEMO and "SITE_URL" not in env:
        name = "127.0.0.1" if host in {"0.0.0.0", "::", ""} else _bracketed(host)  # noqa: S104 - compared, not bound
        env["SITE_URL"] = f"http://{name}:{port}"
    return env


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def _check_port_is_free(host: str, port: int) -> None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise CommandError(
                f"Port {port} on {host} cannot be used ({error.strerror}). "
                f"Stop what listens there, or take another: make run PORT={port + 1}"
            ) from error


@contextlib.contextmanager
def _only_one(var_dir: Path) -> Iterator[None]:
    """Two of them on one folder would fight over its broker and its logs."""
    var_dir.mkdir(parents=True, exist_ok=True)
    with (var_dir / "serve.lock").open("a+", encoding="utf-8") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            lock.seek(0)
            raise CommandError(f"Already running as process {lock.read() or '?'} on {var_dir}.") from error
        lock.truncate(0)
        lock.write(str(os.getpid()))
        lock.flush()
        yield


def _forget_half_a_demo() -> None:
    """Loading takes seconds and many transactions; where it was cut short, the next start begins again.

    The mark is only ever left by a load into a database without a shop, so nobody's work can be lost.
    """
    half_loaded = settings.VAR_DIR / HALF_LOADED
    if not half_loaded.exists():
        return
    database = settings.VAR_DIR / "coachwright.sqlite3"
    if settings.DATABASES["default"]["NAME"] != str(database):
        raise CommandError(f"Loading the demo was cut short: empty the database, then remove {half_loaded}.")
    for path in [*settings.VAR_DIR.glob(f"{database.name}*"), *settings.MAILBOX_DIR.glob("*.log")]:
        path.unlink()
    half_loaded.unlink()


def _static_files_stamp() -> str:
    """Changes whenever a static file, its age or its size changes, or Django does."""
    digest = hashlib.sha256(django.__version__.encode())
    for finder in get_finders():
        for name, storage in sorted(finder.list([]), key=lambda found: found[0]):
            status = Path(storage.path(name)).stat()
            digest.update(f"{name} {status.st_mtime_ns} {status.st_size}\n".encode())
    return digest.hexdigest()


def _first_page_status(host: str, port: int, path: str = "/") -> int | None:
    """The status of the first page, redirects within the site followed; None while nobody answers."""
    address = "127.0.0.1" if host in {"0.0.0.0", ""} else host  # noqa: S104 - compared, not bound
    for _ in range(3):
        connection = http.client.HTTPConnection(address, port, timeout=10)
        try:
            connection.request("GET", path)
            answer = connection.getresponse()
            answer.read()
        except (OSError, http.client.HTTPException):
            return None
        finally:
            connection.close()
        location = answer.headers.get("Location", "")
        if not location.startswith("/"):
            return answer.status
        path = location
    return answer.status
