"""The product running as it does in service, for tests that look at it from outside."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from redis import Redis

from tests.support.databases import bring_back, keep, own_database
from tests.support.mail import MailServer, serving
from tests.support.services import die_with_parent, free_port, redis

ROOT = Path(__file__).resolve().parents[2]
START_SECONDS = 120.0  # for a loaded machine; a process that dies ends the wait at once
WEB = ["gunicorn", "-w", "2", "--threads", "16", "--no-control-socket"]


@dataclass
class Stack:
    """Web, worker and beat as processes on a database of its own."""

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
        if "console" not in self.processes:
            self.start("console", "tests.support.console")
        console = self.processes["console"]
        console.stdin.write(json.dumps(script).encode() + b"\n")
        console.stdin.flush()
        answer = console.stdout.readline()
        assert answer, f"the console ended\n{self.logs()}"
        printed, fault = json.loads(answer)
        assert not fault, fault
        return printed.strip()

    def start(self, name: str, *command: str, **env: str) -> None:
        pipe = subprocess.PIPE if name == "console" else None
        with (self.folder / f"{name}.log").open("ab") as log:
            self.processes[name] = subprocess.Popen(
                [sys.executable, "-m", *command],
                cwd=ROOT,
                env=self.env | env,
                stdin=pipe or subprocess.DEVNULL,
                stdout=pipe or log,
                stderr=log,
                start_new_session=True,
                preexec_fn=die_with_parent,
            )

    def start_web(self) -> None:
        self.start("web", *WEB, "--bind", self.url.removeprefix("http://"), "shopfloor.wsgi")

    def start_worker(self, **env: str) -> None:
        self.start("worker", "celery", "-A", "shopfloor", "worker", "-c", "2", "--loglevel", "WARNING", **env)

    def start_beat(self) -> None:
        """Unless it runs already."""
        if "beat" not in self.processes:
            self.start(
                "beat", "celery", "-A", "shopfloor", "beat", "--scheduler", "celery.beat.Scheduler", "--pidfile", ""
            )

    def kill(self, name: str) -> None:
        """SIGKILL a process and all it started."""
        process = self.processes.pop(name)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait(60)
        for pipe in filter(None, (process.stdin, process.stdout)):
            pipe.close()

    def stop(self) -> None:
        for name in list(self.processes):
            self.kill(name)

    def keep(self) -> None:
        """Remember the rows as they are now: several tests may begin there."""
        keep(self.env["DATABASE_URL"])

    def begin_again(self) -> None:
        """Rows as they were kept, no worker, an empty queue, no mail; web, beat and console stay as they are."""
        if "worker" in self.processes:
            self.kill("worker")
        with Redis(unix_socket_path=self.env["REDIS_URL"].removeprefix("redis+socket://")) as broker:
            for key in broker.scan_iter():
                if not key.startswith(b"_kombu.binding"):  # where the queue is bound is said but once
                    broker.delete(key)
        self.mail.messages.clear()
        bring_back(self.env["DATABASE_URL"])

    def wait_until(self, script: str, *, seconds: float = 180.0) -> None:
        """Wait until a script prints True."""
        deadline = time.monotonic() + seconds
        while (last := self.python(script)) != "True":
            assert time.monotonic() < deadline, f"{script}\nlast: {last}\n{self.logs()}"
            time.sleep(0.1)

    def wait_for_page(self) -> None:
        deadline = time.monotonic() + START_SECONDS
        while True:
            try:
                with urllib.request.urlopen(f"{self.url}/healthz", timeout=60):  # noqa: S310 - our own address
                    return
            except OSError:
                assert self.processes["web"].poll() is None, self.logs()
                assert time.monotonic() < deadline, self.logs()
                time.sleep(0.05)

    def logs(self) -> str:
        return "\n".join(
            f"--- {path.name}\n{path.read_text(errors='replace')[-3000:]}" for path in self.folder.glob("*.log")
        )


@contextlib.contextmanager
def running_stack(folder: Path, *, has_web: bool = True, **env: str) -> Iterator[Stack]:
    """A stack on a migrated database, with a real broker and mail server; worker and beat are the test's to start."""
    mail = MailServer(free_port())
    url = f"http://127.0.0.1:{free_port()}"
    var = folder / "var"
    var.mkdir()
    with redis(folder) as (redis_url, _), own_database(var) as database_url, serving(mail):
        environment = os.environ | {
            "DEMO": "1",
            "VAR_DIR": str(var),
            "DATABASE_URL": database_url,
            "REDIS_URL": redis_url,
            "EMAIL_URL": f"smtp://127.0.0.1:{mail.port}",
            "SITE_URL": url,
            "ORDER_SEARCH_SECONDS": "0.2",  # beat asks for it; the tests need their processors
            "ORDER_POLISH_SECONDS": "0.4",
        }
        stack = Stack(url, environment | env, folder, mail)
        try:
            (var / "static").symlink_to(Path(os.environ["VAR_DIR"]) / "static")
            if has_web:
                stack.start_web()
                stack.wait_for_page()
            yield stack
        finally:
            stack.stop()
