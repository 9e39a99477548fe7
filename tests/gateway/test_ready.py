"""Compiling before the first plan: once, and not where it was ended."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.engine import compiled
from planner.engine.booking import Interrupted
from planner.gateway.progress import ConsoleWatch
from planner.gateway.ready import make_ready


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store that says nothing yet; what is compiled stays where it was."""
    monkeypatch.setattr(compiled, "_STORE", str(tmp_path))
    return tmp_path


def test_it_is_done_once(store: Path) -> None:
    said: list[str] = []
    assert not compiled.is_ready()
    make_ready(ConsoleWatch(None), said.append)
    assert compiled.is_ready()
    make_ready(ConsoleWatch(None), said.append)
    assert len(said) == 1
    assert "once" in said[0]


def test_where_it_was_ended_it_is_done_again(store: Path) -> None:
    watch = ConsoleWatch(None)
    watch.stop()
    with pytest.raises(Interrupted):
        make_ready(watch, str)
    assert not compiled.is_ready()


def test_without_a_store_nothing_is_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compiled, "_STORE", "")
    compiled.set_ready()
    assert not compiled.is_ready()
