"""The one place where Python functions are compiled to machine code."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar, cast

from numba import config, njit

F = TypeVar("F", bound=Callable[..., object])

_ENGINE = Path(__file__).parent


def _kept_in(engine: Path) -> str:
    """A folder for compiled code, named after the sources that use it; empty if none is writable.

    A compiled function holds the code of those it calls, but would be taken from its store while
    its own file is unchanged, whatever became of theirs. So each state of the sources gets a store
    of its own.
    """
    digest = hashlib.sha256()
    for source in sorted(engine.rglob("*.py")):
        text = source.read_bytes()
        if b"compiled" in text:
            digest.update(text)
    folder = engine / "__pycache__" / f"compiled-{digest.hexdigest()[:16]}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return ""
    return str(folder) if os.access(folder, os.W_OK) else ""


_STORE = _kept_in(_ENGINE)
_READY = "ready"
vars(config)["CACHE_DIR"] = _STORE


def compiled(function: F) -> F:
    """Compile on first use; what was compiled is kept where a folder can be written.

    Strict floating point: the same numbers on every run of one machine. Other threads go on
    meanwhile.
    """
    return cast("F", njit(cache=bool(_STORE), fastmath=False, nogil=True)(function))


def is_ready() -> bool:
    """Whether everything was compiled here once, from these sources; `set_ready` says so."""
    return bool(_STORE) and (Path(_STORE) / _READY).exists()


def set_ready() -> None:
    """Remember that everything has been compiled; without a store there is nothing to remember."""
    if _STORE:
        (Path(_STORE) / _READY).touch()
