"""Faults in the order of the file, each told once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from planner.engine.errors import FileRefused

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.engine.network_rules.found import Found, Path


def told_once(shapes: Iterable[Found], rules: Iterable[Found]) -> list[Found]:
    """All of ``shapes``, and of ``rules`` those not about a value that could not be read."""
    shapes = list(shapes)
    unread = {found.path for found in shapes}
    return [
        *shapes,
        *(f for f in rules if not any(f.path[:n] in unread for n in range(len(f.path) + 1))),
    ]


def refusal(raw: Any, found: Iterable[Found]) -> FileRefused:
    """The refusal that lists the faults as a reader of the file ``raw`` comes to them."""
    places: dict[int, dict[str, int]] = {}

    def place(found: Found) -> list[int]:
        return list(_steps(raw, found.path, places))

    return FileRefused([item.fault() for item in sorted(found, key=place)])


def _steps(raw: Any, path: Path, places: dict[int, dict[str, int]]) -> Iterable[int]:
    for step in path:
        if isinstance(step, int):
            yield step
            raw = raw[step] if isinstance(raw, list) and step < len(raw) else None
        elif isinstance(raw, dict):
            order = places.get(id(raw))
            if order is None:
                order = places[id(raw)] = {key: i for i, key in enumerate(raw)}
            # A key that is missing would have come last.
            yield order.get(step, len(order))
            raw = raw.get(step)
        else:
            yield 0
