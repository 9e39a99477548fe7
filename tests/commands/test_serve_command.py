"""``manage.py serve``: refuses with the remedy, and serves over a socket."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

import pytest

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
        "PLATEN_HTTPS": "0",
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
    assert "take PLATEN_HTTPS=0 away" in done.stderr


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an empty record; the servers of this module only read it."""
    folder = tmp_path_factory.mktemp("record")
    made = manage("migrate", "--verbosity", "0", env=environment(folder, **KEYS))
    assert made.returncode == 0, made.stderr
    return folder


@pytest.fixture(scope="module")
def plain(record: Path) -> Iterator[int]:
    """The port of a server without TLS."""
    with serving(environment(record, **KEYS)) as port:
        yield port


@contextmanager
def serving(env: dict[str, str]) -> Iterator[int]:
    """A server on a free port; yields the port once it answers."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    server = subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port)], cwd=ROOT, env=env
    )
    try:
        fetch(f"http://127.0.0.1:{port}/health/", server)
        yield port
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(timeout=60)


def ask(port: int, path: str, **headers: str) -> tuple[int, dict[str, str], str]:
    """Status, headers and body, without following where it leads."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    connection = HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request("GET", path, headers=named)
    answer = connection.getresponse()
    return answer.status, dict(answer.getheaders()), answer.read().decode()


def test_it_serves_pages_and_static_files(plain: int) -> None:
    assert ask(plain, "/health/")[2] == "record: ok\n"
    assert "Sign in" in ask(plain, "/sign-in/")[2]
    assert "--paper" in ask(plain, "/static/planner/board.css")[2]


def test_without_https_a_header_makes_nothing_secure(plain: int) -> None:
    status, headers, _ = ask(plain, "/sign-in/", X_Forwarded_Proto="https")
    assert status == 200
    assert "Strict-Transport-Security" not in headers
    assert "Secure" not in headers["Set-Cookie"]


def test_behind_a_proxy_with_tls_cookies_are_secure_and_plain_http_is_sent_there(
    record: Path,
) -> None:
    """Nothing is said about HTTPS in the environment: outside debug and demo it is the rule."""
    env = environment(record, **KEYS)
    del env["PLATEN_HTTPS"]
    with serving(env) as port:
        status, headers, _ = ask(port, "/sign-in/", X_Forwarded_Proto="https")
        assert status == 200
        assert headers["Strict-Transport-Security"] == "max-age=31536000"
        assert "Secure" in headers["Set-Cookie"]
        status, headers, _ = ask(port, "/sign-in/")
        assert (status, headers["Location"]) == (301, f"https://127.0.0.1:{port}/sign-in/")
        assert "Set-Cookie" not in headers
        assert ask(port, "/health/")[0] == 200  # a balancer asks from inside


def test_a_fault_and_a_wrong_address_show_no_inside(record: Path) -> None:
    env = environment(record, **KEYS, DJANGO_SETTINGS_MODULE="tests.web.broken_settings")
    with serving(env) as port:
        for path, expected, words in (
            ("/broken/", 500, "Our fault"),
            ("/nowhere/", 404, "No such page"),
        ):
            status, _, text = ask(port, path)
            assert status == expected
            assert words in text
            for inside in ("Traceback", "ZeroDivisionError", "urlpatterns", "DEBUG", "broken.py"):
                assert inside not in text


def test_debug_mode_is_refused_by_this_server_and_by_any_other(tmp_path: Path) -> None:
    env = environment(tmp_path, **KEYS, PLATEN_DEBUG="1")
    done = manage("serve", env=env)
    assert done.returncode == 2
    assert "PLATEN_DEBUG is set" in done.stderr
    other = subprocess.run(
        [sys.executable, "-c", "import planner.wsgi"],
        cwd=ROOT,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert other.returncode != 0
    assert "PLATEN_DEBUG is set" in other.stderr


def fetch(address: str, server: subprocess.Popen[bytes]) -> bytes:
    """The body, once the server listens; AssertionError where it ended instead."""
    while True:
        try:
            with urlopen(address, timeout=60) as answer:  # noqa: S310 - our own server
                return bytes(answer.read())
        except URLError:
            assert server.poll() is None, "the server ended"
            time.sleep(0.2)
