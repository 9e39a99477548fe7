"""A backup is made while others write, refused where it is not whole, and put back whole."""

from __future__ import annotations

import json
import os
import pwd
import shutil
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.core.management import call_command
from django.db import connection

from sites.models import AuditEntry, Feature, Subject
from tests.sites.build import World, world

ROOT = Path(__file__).resolve().parents[2]
POSTGRES = os.environ.get("DATABASE_URL", "").startswith("postgres")
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def here() -> World:
    """A site with a subject whose name and number are known."""
    made = world()
    Subject.objects.create(reference="s-p", family_name="Tavorenplanted", phone="+00 555 0147")
    made.book(made.request("r-1"))
    return made


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[str]:
    """The address of a new, empty database, dropped again with all that was kept beside it."""
    if not POSTGRES:
        yield f"sqlite:///{tmp_path / 'fresh.sqlite3'}"
        return
    name, settings = f"fresh_{os.getpid()}_x", connection.settings_dict
    base, _, _ = os.environ["DATABASE_URL"].rpartition("/")
    drop(name)
    with server() as there:
        there.execute(f"CREATE DATABASE {name}")
    assert settings["NAME"] != name
    yield f"{base}/{name}"
    drop(name)


def server() -> psycopg.Connection[Any]:
    """A connection beside the database of the tests."""
    base, _, _ = os.environ["DATABASE_URL"].rpartition("/")
    return psycopg.connect(f"{base}/postgres", autocommit=True)


def drop(name: str) -> None:
    """Drop a database and those kept beside it."""
    with server() as there:
        found = there.execute("SELECT datname FROM pg_database WHERE datname LIKE %s", [f"{name}%"])
        for (each,) in found.fetchall():
            there.execute(f'DROP DATABASE "{each}"')


def manage(url: str, *words: str) -> subprocess.CompletedProcess[str]:
    """Run a command on a database, as a person would."""
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env={**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "tests.settings"},
        capture_output=True,
        text=True,
        check=False,
    )


def backup(target: Path) -> dict[str, Any]:
    """Make a backup and read its manifest."""
    call_command("backup", str(target))
    found: dict[str, Any] = json.loads((target / "manifest.json").read_text())
    return found


def test_what_is_backed_up_while_others_write_is_whole_elsewhere(
    here: World, tmp_path: Path, fresh: str
) -> None:
    ending = threading.Event()
    written: list[int] = []

    def keep_writing() -> None:
        number = 0
        while not ending.is_set():
            Feature.objects.create(code=f"meanwhile-{number}")
            number += 1
        written.append(number)
        connection.close()

    writer = threading.Thread(target=keep_writing)
    writer.start()
    while not Feature.objects.filter(code="meanwhile-3").exists():
        pass
    manifest = backup(tmp_path / "backup")
    ending.set()
    writer.join()
    kept = manifest["rows"]["record_feature"]
    assert 4 <= kept <= written[0]
    restored = manage(fresh, "restore", str(tmp_path / "backup"))
    assert restored.returncode == 0, restored.stderr
    assert "kept as" not in restored.stdout  # there was nothing to keep
    checked = manage(fresh, "check_record")
    assert (checked.returncode, checked.stdout.splitlines()[-1]) == (0, "the record is whole")
    again = manage(fresh, "backup", str(tmp_path / "again"))
    assert again.returncode == 0, again.stderr
    rows = json.loads((tmp_path / "again" / "manifest.json").read_text())["rows"]
    told = {"record_restore": 1, "record_auditentry": manifest["rows"]["record_auditentry"] + 1}
    assert {k: v for k, v in rows.items() if k.startswith("record_")} == {
        k: v for k, v in manifest["rows"].items() if k.startswith("record_")
    } | told
    script = (
        "from sites.models import AuditEntry, Restore; one = Restore.objects.get(); "
        "entry = AuditEntry.objects.latest('id'); "
        "print(entry.actor, entry.what, entry.noun, entry.key == one.pk, one.digest, one.account)"
    )
    said = manage(fresh, "shell", "--no-imports", "-c", script).stdout.split()
    assert said[:5] == ["command:restore", "added", "restore", "True", manifest["sha256"]]
    assert said[5] == pwd.getpwuid(os.geteuid()).pw_name


def test_names_and_contact_are_in_it_sealed_and_it_is_for_its_owner(
    here: World, tmp_path: Path
) -> None:
    manifest = backup(tmp_path / "backup")
    data = (tmp_path / "backup" / manifest["file"]).read_bytes()
    assert len(data) == manifest["size"]
    assert b"planted" not in data
    assert b"555 0147" not in data
    for secret in (b"tests-seal-nothing-of-value", b"tests-find-nobody-of-value"):
        assert secret not in data
    assert manifest["keys"].startswith("not included")
    modes = {stat.S_IMODE(path.stat().st_mode) for path in (tmp_path / "backup").glob("record.*")}
    assert modes == {0o600}
    assert stat.S_IMODE((tmp_path / "backup").stat().st_mode) == 0o700


def test_a_record_is_not_overwritten_without_being_asked_and_is_kept_beside(
    here: World, tmp_path: Path, fresh: str
) -> None:
    backup(tmp_path / "first")
    Feature.objects.create(code="later")
    backup(tmp_path / "second")
    assert manage(fresh, "restore", str(tmp_path / "second")).returncode == 0
    refused = manage(fresh, "restore", str(tmp_path / "first"))
    assert refused.returncode == 2
    assert "holds a record; nothing was changed" in refused.stderr
    assert "--replace" in refused.stderr
    done = manage(fresh, "restore", "--replace", str(tmp_path / "first"))
    assert done.returncode == 0, done.stderr
    kept = done.stdout.split("kept as ")[1].splitlines()[0]
    beside = f"{fresh.rpartition('/')[0]}/{kept}" if POSTGRES else f"sqlite:///{kept}"
    counts: dict[str, int] = {}
    for url in (fresh, beside):
        folder = tmp_path / f"of-{len(counts)}"
        assert manage(url, "backup", str(folder)).returncode == 0
        counts[url] = json.loads((folder / "manifest.json").read_text())["rows"]["record_feature"]
    assert counts == {fresh: 0, beside: 1}


def test_a_backup_that_was_cut_short_is_refused_and_nothing_changes(
    here: World, tmp_path: Path, fresh: str
) -> None:
    manifest = backup(tmp_path / "backup")
    file = tmp_path / "backup" / manifest["file"]
    file.write_bytes(file.read_bytes()[:-100])
    answer = manage(fresh, "restore", str(tmp_path / "backup"))
    assert answer.returncode == 2
    assert "cut short or changed" in answer.stderr
    assert "holds no record" in manage(fresh, "backup", str(tmp_path / "none")).stderr


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"engine": "another"}, "is of another"),
        ({"format": 9}, "has format 9"),
        ({"migrations": {"record": ["9999_later"]}}, "was made by a later release"),
        ({"size": "many"}, "is no manifest"),
    ],
)
def test_a_backup_that_does_not_fit_says_why(
    here: World, tmp_path: Path, fresh: str, change: dict[str, Any], words: str
) -> None:
    manifest = backup(tmp_path / "backup")
    text = json.dumps({**manifest, **change})
    (tmp_path / "backup" / "manifest.json").write_text(text)
    answer = manage(fresh, "restore", str(tmp_path / "backup"))
    assert answer.returncode == 2
    assert words in answer.stderr


def test_a_target_that_is_there_or_cannot_be_made_is_refused(here: World, tmp_path: Path) -> None:
    for target in (tmp_path, tmp_path / "nowhere" / "backup"):
        with pytest.raises(SystemExit) as end:
            call_command("backup", str(target))
        assert end.value.code == 2
    assert list(tmp_path.iterdir()) == []


def test_other_keys_are_noticed(here: World, tmp_path: Path, fresh: str) -> None:
    backup(tmp_path / "backup")
    shutil.copytree(tmp_path / "backup", tmp_path / "copy")
    with_other_keys = {
        **os.environ,
        "DATABASE_URL": fresh,
        "PLATEN_SECRET_KEY": "x",
        "PLATEN_LOOKUP_KEY": "x",
        "PLATEN_CONTACT_KEYS": "another",
        "DJANGO_SETTINGS_MODULE": "planner.settings",
    }
    answer = subprocess.run(
        [sys.executable, "manage.py", "restore", str(tmp_path / "copy")],
        cwd=ROOT,
        env=with_other_keys,
        capture_output=True,
        text=True,
        check=False,
    )
    assert answer.returncode == 1
    assert "do not open" in answer.stderr


def test_the_audit_of_a_restored_record_is_still_append_only(
    here: World, tmp_path: Path, fresh: str
) -> None:
    assert AuditEntry.objects.exists()
    backup(tmp_path / "backup")
    assert manage(fresh, "restore", str(tmp_path / "backup")).returncode == 0
    script = "from sites.models import AuditEntry; AuditEntry.objects.all().delete()"
    answer = manage(fresh, "shell", "-c", script)
    assert "append-only" in answer.stderr
