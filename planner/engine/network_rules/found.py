"""A fault as the checks find it: the path in steps, so that it can be ordered and compared."""

from __future__ import annotations

import json
import re
from difflib import get_close_matches
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from planner.engine.errors import Fault
from planner.engine.units import day_text, minute_text

if TYPE_CHECKING:
    from datetime import date

Step = str | int
Path = tuple[Step, ...]

_PLAIN_KEY = re.compile(r"[A-Za-z_][\w:-]*", re.ASCII)
_LONGEST_SHOWN = 60
_LONGEST_GUESSED = 40
_LONGEST_WHOLE = 1e15


class Found(NamedTuple):
    """One fault: the file's keys and indices down to the value, what is wrong, what to do."""

    path: Path
    problem: str
    remedy: str

    def fault(self) -> Fault:
        """The fault with its path as text."""
        return Fault(path_text(self.path), self.problem, self.remedy)


def path_text(path: Path) -> str:
    """``requests[17].due``; a key that is no plain word stands in brackets, as JSON text."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step}]"
        elif _PLAIN_KEY.fullmatch(step):
            text += f".{step}" if text else step
        else:
            text += f"[{json.dumps(step)}]"
    return text or "top level"


def shown(value: object) -> str:
    """A value for a message: short, on one line, and printable whatever it holds."""
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, str):
        text = json.dumps(value, ensure_ascii=not value.isprintable())
        return text if len(text) <= _LONGEST_SHOWN else f'{text[: _LONGEST_SHOWN - 4]}..."'
    if isinstance(value, float) and value in (float("inf"), float("-inf")):
        return "a number too large to hold"
    if isinstance(value, float) and value.is_integer() and abs(value) < _LONGEST_WHOLE:
        return str(int(value))
    return json.dumps(value)


def clock(minute: int, first_day: date) -> str:
    """A time for a message; a value built in Python may lie outside the years that exist."""
    try:
        return minute_text(minute, first_day)
    except (OverflowError, ValueError):
        return f"minute {minute}"


def calendar(day: int, first_day: date) -> str:
    """A date for a message, likewise."""
    try:
        return day_text(day, first_day)
    except (OverflowError, ValueError):
        return f"day {day}"


@lru_cache(maxsize=256)
def nearest(word: str, words: frozenset[str]) -> str | None:
    """The one of ``words`` that was probably meant, if any looks like ``word``."""
    # Matching is quadratic in the length, and no key or zone is longer than this.
    if len(word) > _LONGEST_GUESSED:
        return None
    close = get_close_matches(word, sorted(words), n=1)
    return close[0] if close else None
