"""Network and plan files on disk: read with clear refusals, written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from planner.engine.codec import decode_network, decode_plan
from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Network
from planner.engine.plan import Plan


def read_bytes(path: Path) -> bytes:
    """The file's bytes. Raises FileRefused where it cannot be read."""
    try:
        return path.read_bytes()
    except OSError as error:
        problem = f"cannot be read ({error.strerror or error})"
        raise FileRefused([Fault(str(path), problem, "name a file that exists")]) from error


def read_network(path: Path) -> Network:
    """Read a network file. Raises FileRefused with every fault."""
    return decode_network(read_bytes(path))


def read_plan(path: Path, network: Network) -> Plan:
    """Read a plan file made for ``network``. Raises FileRefused with every fault."""
    return decode_plan(read_bytes(path), network)


def write_whole(path: Path, data: bytes) -> None:
    """Replace ``path`` by ``data`` in one step, so that a reader sees the old file or the new.

    Raises FileRefused where the folder cannot be written; the old file then stands.
    """
    scratch: str | None = None
    try:
        handle, scratch = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        os.chmod(scratch, 0o644)
        os.replace(scratch, path)
    except OSError as error:
        if scratch is not None:
            with suppress(OSError):
                os.unlink(scratch)
        problem = f"cannot be written ({error.strerror or error})"
        raise FileRefused(
            [Fault(str(path), problem, "name a folder that can be written")]
        ) from error
