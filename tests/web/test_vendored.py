"""The files of others that pages use: as published, pinned, with their licences."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

from django.test import Client

ROOT = Path(__file__).resolve().parents[2]
VENDOR = ROOT / "planner/static/vendor"


def test_every_file_is_what_was_published() -> None:
    """The hashes are those of the files in the packages of the npm registry, by version."""
    lines = (VENDOR / "SHA256SUMS").read_text("utf-8").split("\n")
    sums = {line.split()[1]: line.split()[0] for line in lines if line}
    there = {path.name for path in VENDOR.iterdir()} - {"SHA256SUMS", "package.json"}
    assert set(sums) == there
    for name, digest in sums.items():
        assert hashlib.sha256((VENDOR / name).read_bytes()).hexdigest() == digest
    assert {name.split(".")[0] for name in there if "LICENSE" in name} == {"pico", "htmx"}


def test_the_versions_are_pinned_and_those_of_the_files() -> None:
    pins = json.loads((VENDOR / "package.json").read_text("utf-8"))["dependencies"]
    assert all(re.fullmatch(r"\d+\.\d+\.\d+", version) for version in pins.values())
    assert f"v{pins['@picocss/pico']}" in (VENDOR / "pico.min.css").read_text("utf-8")[:200]
    htmx = (VENDOR / "htmx.min.js").read_text("utf-8")
    assert f'version:"{pins["htmx.org"]}"' in htmx


def test_they_are_served_and_nothing_comes_from_elsewhere(db: None, client: Client) -> None:
    text = client.get("/sign-in/").content.decode()
    addresses = re.findall(r'(?:src|href)="([^"]+)"', text)
    assert len(addresses) > 6
    assert [each for each in addresses if not each.startswith(("/", "#"))] == []
    for each in addresses:
        if each.startswith("/static/"):
            assert client.get(each).status_code == 200, each
