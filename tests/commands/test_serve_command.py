"""``manage.py serve``: refuses with the remedy, and serves over a socket."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

ROOT = Path(__file__).resolve().parents[2]
KEYS = {
    "PLATEN_SECRET_KEY": "of-no-value-of-no-value",
    "PLATEN_CONTACT_KEYS": "of-no-value",
    "PLATEN_LOOKUP_KEY": "of-no-value",
}


def environment(folder: Path, **more: str) -> dict[str, str]:
    """The environment without any setting of ours, and a folder for the record."""
    names = ("PLATEN_", "DATABASE_URL")
    clean = {name: value for name, value in os.environ.items() if not name.startswith(names)}
    return {
        **clean,
        "DJANGO_SETTINGS_MODULE": "planner.settings",
        "PLATEN_VAR": str(folder),
        **more,
    }


def manage(*words: str, env: dict[str, str]) -> subprocess.CompletedProcess[str]:
    """Run a command to its end."""
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )


def test_without_keys_it_refuses_and_says_how_to_make_them(tmp_path: Path) -> None:
    done = manage("serve", env=environment(tmp_path))
    assert done.returncode == 2
    for name in KEYS:
        assert f"{name} is not set" in done.stderr
    assert "secrets.token_urlsafe" in done.stderr


def test_without_a_record_it_refuses(tmp_path: Path) -> None:
    done = manage("serve", env=environment(tmp_path, **KEYS))
    assert done.returncode == 2
    assert "run manage.py migrate" in done.stderr


def test_it_refuses_debug_and_a_network_without_tls(tmp_path: Path) -> None:
    env = environment(tmp_path, **KEYS, PLATEN_DEBUG="1")
    done = manage("serve", "--host", "0.0.0.0", env=env)  # noqa: S104 - refused
    assert done.returncode == 2
    assert "PLATEN_DEBUG is set" in done.stderr
    assert "PLATEN_HTTPS=1" in done.stderr


def test_it_serves_pages_and_static_files(tmp_path: Path) -> None:
    env = environment(tmp_path, **KEYS)
    assert manage("migrate", "--verbosity", "0", env=env).returncode == 0
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    server = subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port)], cwd=ROOT, env=env
    )
    try:
        base = f"http://127.0.0.1:{port}"
        assert fetch(f"{base}/health/", server) == b"record: ok\n"
        assert b"Sign in" in fetch(f"{base}/sign-in/", server)
        assert b"--paper" in fetch(f"{base}/static/planner/board.css", server)
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(timeout=60)


def fetch(address: str, server: subprocess.Popen[bytes]) -> bytes:
    """The body, once the server listens; AssertionError where it ended instead."""
    while True:
        try:
            with urlopen(address, timeout=60) as answer:  # noqa: S310 - our own server
                return bytes(answer.read())
        except URLError:
            assert server.poll() is None, "the server ended"
            time.sleep(0.2)
