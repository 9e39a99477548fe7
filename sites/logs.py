"""Logs without personal data: who and which request by number, and no text of a foreign error.

A database's message tells the values of the row that it refused, and a library's whatever it was
given; so of an exception only its kind and where it was raised are written.
"""

from __future__ import annotations

import logging
import traceback
from copy import copy
from types import TracebackType
from typing import Any

from pythonjsonlogger.json import JsonFormatter

from sites.audit.actor import actor, request_id

Raised = tuple[type[BaseException], BaseException, TracebackType | None] | tuple[None, None, None]


def places(raised: Raised) -> str:
    """Kind and places of an exception and of what caused it, without their texts."""
    found: list[str] = []
    error: BaseException | None = raised[1]
    while error is not None:
        frames = traceback.format_list(traceback.extract_tb(error.__traceback__))
        found.append("".join(frames) + type(error).__qualname__)
        error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
    return "\nraised from\n".join(found)


class Careful(logging.Formatter):
    """What both forms share: the request's id, who acts, pages by pattern, errors by kind."""

    def format(self, record: logging.LogRecord) -> str:
        """Work on a copy: other handlers may be shown more, and what they made is not reused."""
        own = copy(record)
        own.exc_text = None
        own.request_id, own.actor = request_id(), actor()
        request = own.__dict__.pop("request", None)  # an object, not a text
        path = getattr(request, "path", None)
        if path and isinstance(own.args, tuple):
            match = getattr(request, "resolver_match", None)
            named = f"/{match.route}" if match else "no page of ours"
            own.args = tuple(named if arg == path else arg for arg in own.args)
        return super().format(own)

    def formatException(self, ei: Any) -> str:  # noqa: N802 - logging's own name
        """Kind and places only."""
        return places(ei)


class Plain(Careful):
    """A line for a person at a terminal."""


class Lines(Careful, JsonFormatter):
    """A JSON object a line."""
