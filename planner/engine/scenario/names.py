"""Invented names: syllables put together at random, no real person or place meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

_HEADS = (
    *("Bra", "Cor", "Dul", "Fen", "Gra", "Hol", "Jor", "Kes", "Lum", "Mor", "Nar"),
    *("Oth", "Pel", "Quo", "Ris", "Sar", "Tol", "Ulv", "Vor", "Wen", "Yar", "Zel"),
)
_MIDDLES = ("a", "be", "di", "en", "go", "ith", "lo", "mi", "na", "or", "ra", "su", "ta", "ve")
_PLACE_ENDS = (
    *("drith", "fosk", "gavel", "hask", "lund", "mouth", "nock"),
    *("pell", "quay", "reth", "sted", "thrup", "vask", "wold"),
)
_PERSON_ENDS = ("bo", "dek", "fi", "ka", "lim", "mu", "nes", "po", "rix", "su", "tev", "zo")


def place_names(count: int, rng: np.random.Generator) -> list[str]:
    """``count`` different place names."""
    names: dict[str, None] = {}
    while len(names) < count:
        name = _draw(_HEADS, rng) + _draw(_MIDDLES, rng) + _draw(_PLACE_ENDS, rng)
        names.setdefault(name)
    return list(names)


def technician_id(number: int, rng: np.random.Generator) -> str:
    """A technician's id: syllables and the running ``number``, so that ids never meet."""
    return f"{_draw(_HEADS, rng).lower()}{_draw(_PERSON_ENDS, rng)}-{number:03d}"


def _draw(words: tuple[str, ...], rng: np.random.Generator) -> str:
    return words[int(rng.integers(len(words)))]


def person_names(count: int, rng: np.random.Generator) -> list[tuple[str, str]]:
    """``count`` given and family names; they may come twice, as people's do."""
    heads = [_HEADS[i] for i in rng.integers(len(_HEADS), size=2 * count)]
    middles = [_MIDDLES[i] for i in rng.integers(len(_MIDDLES), size=count)]
    ends = [_PERSON_ENDS[i] for i in rng.integers(len(_PERSON_ENDS), size=2 * count)]
    return [
        (heads[i] + ends[i], heads[count + i] + middles[i] + ends[count + i]) for i in range(count)
    ]
