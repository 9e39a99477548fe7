"""Settings from the environment, tried from outside: what is asked for, and of whom."""

from __future__ import annotations

import os
import secrets
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
NAMES = ("DATABASE_URL", "DJANGO_", "PLATEN_")
"""The browser tests of the same process leave a setting of Django's own in the environment."""


def manage(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run ``manage.py`` with nothing of Platen's in the environment but what is given."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith(NAMES)}
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=clean | environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_commands_on_files_need_no_key_and_no_database(tmp_path: Path) -> None:
    nowhere = {"PLATEN_VAR": str(tmp_path / "none"), "DATABASE_URL": "postgres://x@127.0.0.1:1/x"}
    done = manage("sessions", "fixtures/small-one-station.json", **nowhere)
    assert (done.returncode, done.stderr) == (0, "")
    assert not (tmp_path / "none").exists()


def test_migrate_without_keys_is_refused_and_says_how_to_make_them(tmp_path: Path) -> None:
    refused = manage("migrate", PLATEN_VAR=str(tmp_path))
    assert refused.returncode != 0
    for name in ("PLATEN_SECRET_KEY", "PLATEN_CONTACT_KEYS", "PLATEN_LOOKUP_KEY"):
        assert f"{name} is not set" in refused.stderr
    assert "secrets.token_urlsafe" in refused.stderr


def test_migrate_with_keys_makes_a_record_that_is_whole(tmp_path: Path) -> None:
    keys = {
        "PLATEN_VAR": str(tmp_path),
        "PLATEN_SECRET_KEY": "one",
        "PLATEN_CONTACT_KEYS": "two,three",
        "PLATEN_LOOKUP_KEY": "four",
    }
    assert manage("migrate", **keys).returncode == 0
    assert (tmp_path / "record.sqlite3").exists()
    done = manage("check_record", **keys)
    assert (done.returncode, done.stdout.splitlines()[-1]) == (0, "the record is whole")


def test_djangos_check_of_a_deployment_has_nothing_to_say(tmp_path: Path) -> None:
    """Two are silenced by name, the operator's to answer: subdomains and preload of HSTS."""
    keys = {
        "PLATEN_VAR": str(tmp_path),
        "PLATEN_SECRET_KEY": secrets.token_urlsafe(48),
        "PLATEN_CONTACT_KEYS": "two",
        "PLATEN_LOOKUP_KEY": "four",
        "PLATEN_HOSTS": "platen.invalid",
    }
    strict = ("check", "--deploy", "--database", "default", "--fail-level", "WARNING")
    done = manage(*strict, **keys)
    assert done.returncode == 0, done.stderr
    assert "no issues (2 silenced)" in done.stdout
    answered = {"PLATEN_HSTS_SUBDOMAINS": "1", "PLATEN_HSTS_PRELOAD": "1"}
    assert "no issues" in manage(*strict, **keys, **answered).stdout
    weak = manage(*strict, **{**keys, "PLATEN_SECRET_KEY": "short"})
    assert "security.W009" in weak.stderr
    plain = manage(*strict, **keys, PLATEN_HTTPS="0")
    assert "security.W012" in plain.stderr


def test_invented_data_needs_no_keys_and_has_a_database_of_its_own(tmp_path: Path) -> None:
    made = manage("migrate", "contenttypes", PLATEN_VAR=str(tmp_path), PLATEN_DEMO="1")
    assert made.returncode == 0, made.stderr
    assert (tmp_path / "demo.sqlite3").exists()
    assert not (tmp_path / "record.sqlite3").exists()
