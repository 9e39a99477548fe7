"""The one place where Python functions are compiled to machine code."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., object])


def compiled(function: F) -> F:
    """Compile on first use and keep the result beside the source file.

    Strict floating point: the same numbers on every run of one machine.
    """
    return cast("F", njit(cache=True, fastmath=False)(function))
