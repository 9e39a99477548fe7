"""Who is writing, and for which request of a page: asked at the moment of each write.

An actor is a kind and a name: ``login:12`` (the login's number, never its name), ``command:demo``,
``task:plan``, ``nobody:page`` (not signed in), or ``database:ROLE``, which only PostgreSQL says, of
who writes without this program.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

STRANGE = re.compile(r"[^A-Za-z0-9_.:-]")
LONGEST = 80  # characters of an actor
LONGEST_REQUEST = 64
NOBODY = "nobody:page"


@dataclass(slots=True)
class Process:
    """Who writes where nothing else was said: the program that this process runs."""

    actor: str = "command:none"


PROCESS = Process()
Ask = Callable[[], str]
_actor: ContextVar[Ask | None] = ContextVar("actor", default=None)
_request: ContextVar[str] = ContextVar("request", default="")


def login(key: int) -> str:
    """The actor that stands for a login."""
    return f"login:{key}"


def command(name: str) -> str:
    """The actor that stands for a command of ``manage.py``."""
    return clean(f"command:{name}")


def task(name: str) -> str:
    """The actor that stands for a background task."""
    return clean(f"task:{name}")


def clean(text: str, longest: int = LONGEST) -> str:
    """The text with nothing in it that could end a comment of SQL or a line of a log."""
    return STRANGE.sub("_", text)[:longest]


def actor() -> str:
    """Who is writing."""
    ask = _actor.get()
    return clean(ask()) if ask else PROCESS.actor


def request_id() -> str:
    """The id of the page's request that is being answered, "" outside of one."""
    return _request.get()


@contextmanager
def acting(who: str | Ask, request: str = "") -> Iterator[None]:
    """Name who writes from here on; a function is asked at each write, as sign-in is in between."""
    asked: Ask = who if callable(who) else lambda: who
    was_actor, was_request = _actor.set(asked), _request.set(clean(request, LONGEST_REQUEST))
    try:
        yield
    finally:
        _request.reset(was_request)
        _actor.reset(was_actor)
