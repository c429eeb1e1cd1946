"""Fixtures for tests of the whole: a mail server, the running stack, a browser."""

import contextlib
import os
import signal
import smtplib
import subprocess
import sys
import time
import urllib.request
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path

import psycopg
import pytest
from aiosmtpd.controller import Controller
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from tests.support.services import chromium, die_with_parent, free_port, redis

ROOT = Path(__file__).resolve().parents[2]
BROWSER_FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
]  # fmt: skip


@dataclass
class MailServer:
    """A real SMTP server that keeps what it is given, or answers as it is told."""

    port: int
    messages: list[EmailMessage] = field(default_factory=list)
    answer: str | None = None  # to the message, such as "451 later" or "554 refused"
    answer_to_recipient: str | None = None  # to the address, such as "550 no such mailbox"

    async def handle_RCPT(  # noqa: N802 - aiosmtpd's name
        self, server: object, session: object, envelope: object, address: str, options: list[str]
    ) -> str:
        if self.answer_to_recipient:
            return self.answer_to_recipient
        envelope.rcpt_tos.append(address)
        return "250 known"

    async def handle_DATA(self, server: object, session: object, envelope: object) -> str:  # noqa: N802 - aiosmtpd's name
        if self.answer:
            return self.answer
        self.messages.append(message_from_bytes(envelope.content, policy=policy.default))
        return "250 kept"

    def wait_for(self, count: int, *, seconds: float = 20.0) -> list[EmailMessage]:
        """The messages once there are so many; fails when they do not come."""
        deadline = time.monotonic() + seconds
        while len(self.messages) < count:
            assert time.monotonic() < deadline, f"{len(self.messages)} of {count} mails came within {seconds} s"
            time.sleep(0.02)
        return self.messages


@pytest.fixture
def mail_server() -> Iterator[MailServer]:
    server = MailServer(free_port())
    with _serving(server):
        yield server


@contextlib.contextmanager
def _serving(server: MailServer) -> Iterator[None]:
    controller = Controller(server, hostname="127.0.0.1", port=server.port)
    controller.start()
    try:
        with smtplib.SMTP("127.0.0.1", server.port, timeout=5):
            yield
    finally:
        controller.stop()


@dataclass
class Stack:
    """The product running as it does in service: web, worker and beat as processes on a database of its own."""

    url: str
    env: dict[str, str]
    folder: Path
    mail: MailServer
    processes: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)

    def manage(self, *arguments: str, **env: str) -> str:
        """Run a management command in the stack's environment and return what it printed."""
        done = subprocess.run(
            [sys.executable, "manage.py", *arguments],
            cwd=ROOT, env=self.env | env, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def python(self, script: str) -> str:
        """Run a script with Django set up; what it prints comes back."""
        return self.manage("shell", "--no-imports", "-v0", "-c", script).strip()

    def start(self, name: str, *command: str, **env: str) -> None:
        with (self.folder / f"{name}.log").open("ab") as log:
            self.processes[name] = subprocess.Popen(
                [sys.executable, "-m", *command],
                cwd=ROOT,
                env=self.env | env,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
                preexec_fn=die_with_parent,
            )

    def start_worker(self, **env: str) -> None:
        self.start("worker", "celery", "-A", "shopfloor", "worker", "-c", "2", "--loglevel", "WARNING", **env)

    def start_beat(self) -> None:
        self.start("beat", "celery", "-A", "shopfloor", "beat", "--scheduler", "celery.beat.Scheduler", "--pidfile", "")

    def kill(self, name: str) -> None:
        """SIGKILL a process and all it started."""
        process = self.processes.pop(name)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait(10)

    def stop(self) -> None:
        for name in list(self.processes):
            self.kill(name)

    def wait_until(self, script: str, *, seconds: float = 60.0) -> None:
        """Wait until a script prints True."""
        deadline = time.monotonic() + seconds
        while (last := self.python(script)) != "True":
            assert time.monotonic() < deadline, f"{script}\nlast: {last}\n{self.logs()}"

    def logs(self) -> str:
        return "\n".join(
            f"--- {path.name}\n{path.read_text(errors='replace')[-3000:]}" for path in self.folder.glob("*.log")
        )


@contextlib.contextmanager
def running_stack(folder: Path, **env: str) -> Iterator[Stack]:
    """Migrate a database of its own, then start web, worker and beat with a real broker and mail server."""
    port, mail = free_port(), MailServer(free_port())
    var = folder / "var"
    var.mkdir()
    with redis(folder) as (redis_url, _), _own_database(var) as database_url, _serving(mail):
        environment = os.environ | {
            "DEMO": "1",
            "VAR_DIR": str(var),
            "DATABASE_URL": database_url,
            "REDIS_URL": redis_url,
            "EMAIL_URL": f"smtp://127.0.0.1:{mail.port}",
            "SITE_URL": f"http://127.0.0.1:{port}",
        }
        stack = Stack(f"http://127.0.0.1:{port}", environment | env, folder, mail)
        try:
            stack.manage("migrate", "-v0")
            stack.manage("createcachetable")
            (var / "static").symlink_to(Path(os.environ["VAR_DIR"]) / "static")
            web = ["gunicorn", "-w", "2", "--threads", "16", "--no-control-socket", "--bind", f"127.0.0.1:{port}"]
            stack.start("web", *web, "shopfloor.wsgi")
            _wait_for_page(stack)
            yield stack
        finally:
            stack.stop()


@contextlib.contextmanager
def _own_database(folder: Path) -> Iterator[str]:
    url = os.environ.get("DATABASE_URL", "")
    if not url.startswith("postgresql"):
        yield f"sqlite://{folder}/stack.sqlite3"
        return
    name = f"stack_{uuid.uuid4().hex[:8]}"
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')
    yield url.replace("/postgres?", f"/{name}?")


def _wait_for_page(stack: Stack) -> None:
    deadline = time.monotonic() + 30
    while True:
        try:
            with urllib.request.urlopen(f"{stack.url}/healthz", timeout=5):  # noqa: S310 - our own address
                return
        except OSError:
            assert time.monotonic() < deadline, stack.logs()
            time.sleep(0.05)


@pytest.fixture
def stack(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stack]:
    """The product with a web server; the test starts worker and beat once its scene is set."""
    with running_stack(Path(tmp_path_factory.mktemp("s"))) as started:
        yield started


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    program = chromium()
    if program is None:
        pytest.skip("NOT RUN: no Chromium on this machine")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"  # playwright's loop runs in this thread
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=program, args=BROWSER_FLAGS)
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
        page.set_default_timeout(15_000)
        page.on("console", lambda message: complaints.append(message.text) if _is_complaint(message) else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        return page

    yield make
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture(scope="session")
def stack_maker(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., contextlib.AbstractContextManager[Stack]]:
    """Makes a stack without worker and beat, for tests that share one."""
    return lambda **env: running_stack(Path(tmp_path_factory.mktemp("s")), **env)


@pytest.fixture
def bare_stack(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stack]:
    """The stack without worker and beat, and with a short lease, so that a dead worker's claim lapses in seconds."""
    folder = Path(tmp_path_factory.mktemp("s"))
    with running_stack(folder, REACTION_LEASE_SECONDS="4", SWEEP_SECONDS="1") as started:
        yield started
