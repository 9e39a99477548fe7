"""What of a plan is written when somebody accepts all of it, or some."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from planner.gateway.review.lines import CHANGES, Kind, Line


def items_to_write(lines: Iterable[Line], *, without: Collection[str] = ()) -> list[str]:
    """Requests to write: the changes that are not left ``without``, and whoever stays in place."""
    return [
        line.request
        for line in lines
        if line.kind == Kind.STANDS or (line.kind in CHANGES and line.request not in without)
    ]


def changes_of(lines: Iterable[Line]) -> list[str]:
    """The requests that somebody decides on."""
    return [line.request for line in lines if line.kind in CHANGES]
