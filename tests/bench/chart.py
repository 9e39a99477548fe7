"""Cost against size as a drawing: both axes by powers of ten, a line for each contestant."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from tests.bench.contest import CONTESTANTS
from tests.bench.rows import OURS
from tests.bench.table import Line

WIDE, HIGH = 940, 440
LEFT, RIGHT, TOP, BOTTOM = 70, 370, 32, 48
APART = 15
"""Least pixels between two labels."""
DASHES = ("", "7 4", "2 4", "9 3 2 3", "4 2", "1 3", "6 2 2 2")


def cost_against_size(lines: Sequence[Line]) -> str:
    """An SVG with the mean cost of each contestant over the mean number of requests.

    Lines are told apart by their dashes and by a label at the right end; ours is the thick one.
    Empty where nothing can be drawn.
    """
    points: dict[str, list[tuple[float, float]]] = {}
    for line in lines:
        if line.cost is not None and line.cost > 0 and line.requests > 0:
            points.setdefault(line.contestant, []).append((line.requests, line.cost))
    if not points:
        return ""
    every = [point for group in points.values() for point in group]
    across = _Axis([x for x, _ in every], LEFT, WIDE - RIGHT)
    up = _Axis([y for _, y in every], HIGH - BOTTOM, TOP)
    parts = [
        f'<svg class="cost" viewBox="0 0 {WIDE} {HIGH}" role="img" aria-label="Cost against '
        'requests; the figures are in the table above">',
        *_grid(across, up),
    ]
    labels: list[tuple[float, str]] = []
    for k, name in enumerate(CONTESTANTS):
        group = sorted(points.get(name, []))
        if not group:
            continue
        ours = ' class="ours"' if name == OURS else ""
        spots = [(across.at(x), up.at(y)) for x, y in group]
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in spots)
        parts.append(f'<g{ours}><polyline points="{path}" stroke-dasharray="{DASHES[k]}"/>')
        parts += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5"/>' for x, y in spots]
        parts.append("</g>")
        labels.append((spots[-1][1], f"{CONTESTANTS[name].words}|{spots[-1][0]:.1f}"))
    parts += _labels(labels)
    return "\n".join([*parts, "</svg>"])


class _Axis:
    """Values by powers of ten between two pixels."""

    def __init__(self, values: Sequence[float], first: float, last: float) -> None:
        self.low = math.floor(math.log10(min(values)) * 2) / 2
        self.high = max(self.low + 0.5, math.ceil(math.log10(max(values)) * 2) / 2)
        self.first, self.last = first, last

    def at(self, value: float) -> float:
        share = (math.log10(value) - self.low) / (self.high - self.low)
        return self.first + share * (self.last - self.first)

    def ticks(self) -> list[float]:
        """1, 2 and 5 of each power of ten that lie on the axis."""
        powers = range(math.floor(self.low), math.ceil(self.high) + 1)
        every = [digit * 10.0**power for power in powers for digit in (1, 2, 5)]
        return [v for v in every if self.low - 1e-9 <= math.log10(v) <= self.high + 1e-9]


def _grid(across: _Axis, up: _Axis) -> list[str]:
    base = HIGH - BOTTOM
    parts = []
    for value in across.ticks():
        x = across.at(value)
        parts.append(f'<line class="hour" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{base}"/>')
        parts.append(f'<text x="{x:.1f}" y="{base + 18}" text-anchor="middle">{value:,.0f}</text>')
    for value in up.ticks():
        y = up.at(value)
        parts.append(
            f'<line class="hour" x1="{LEFT}" x2="{WIDE - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>'
        )
        parts.append(f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{value:,.0f}</text>')
    middle = (LEFT + WIDE - RIGHT) / 2
    parts.append(f'<text x="{middle:.0f}" y="{HIGH - 8}" text-anchor="middle">requests</text>')
    parts.append(f'<text x="{LEFT - 8}" y="{TOP - 16}" text-anchor="end">cost</text>')
    return parts


def _labels(labels: list[tuple[float, str]]) -> list[str]:
    """Each beside the end of its line, moved down where two would touch."""
    parts, last = [], -math.inf
    for y, text in sorted(labels):
        words, x = text.split("|")
        last = max(y, last + APART)
        parts.append(
            f'<line class="lead" x1="{x}" y1="{y:.1f}" x2="{WIDE - RIGHT + 10}" y2="{last:.1f}"/>'
            f'<text x="{WIDE - RIGHT + 14}" y="{last + 4:.1f}">{escape(words)}</text>'
        )
    return parts
