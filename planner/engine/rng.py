"""Random numbers: one stream per purpose and thing, from one seed, with no global state."""

from __future__ import annotations

import hashlib

import numpy as np


def stream(seed: int, *purpose: str | int) -> np.random.Generator:
    """A generator for one purpose (words and numbers naming it), the same on every machine.

    Two purposes never share numbers, so that adding draws to one leaves the other as it was
    (common random numbers: Law, *Simulation Modeling and Analysis*, ch. 11; from memory).
    """
    text = "\x1f".join([str(seed), *map(str, purpose)])
    key = int.from_bytes(hashlib.sha256(text.encode()).digest()[:16], "little")
    return np.random.Generator(np.random.Philox(key=key))
