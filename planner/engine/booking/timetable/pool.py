"""Draws of session lengths, shared by all days: common random numbers for the list schedule."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.network import Network
from planner.engine.rng import stream
from planner.engine.sessions.length import session_length

VECTORS = 128


def draw_pool(
    network: Network, *, draws: int, seed: int, vectors: int = VECTORS
) -> NDArray[np.float32]:
    """Draws by profile: shape (profiles, vectors, draws), minutes, no-shows as 0.

    Every vector is a permutation of the same evenly spread quantiles (a Latin hypercube: McKay,
    Beckman and Conover 1979, doi:10.2307/1268522; from memory), so that sums of a few vectors
    are much steadier than free draws.
    """
    spread = (np.arange(draws) + 0.5) / draws
    pool = np.empty((len(network.profiles), vectors, draws), dtype=np.float32)
    for p, profile in enumerate(network.profiles):
        values = session_length(profile).draw(spread).astype(np.float32)
        rng = stream(seed, "pool", profile.id)
        for k in range(vectors):
            pool[p, k] = rng.permutation(values)
    return pool
