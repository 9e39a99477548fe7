"""The comparison of a run with the plan in force and an earlier run, as rows of words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from planner.gateway.review.book import Review
from planner.gateway.review.figures import Figures
from sites.models import PlanRun


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One figure with its meaning: in force, in this run, in the earlier one."""

    name: str
    meaning: str
    in_force: str
    here: str
    there: str


Words: TypeAlias = Callable[[Figures], str]
NONE = "–"


def number(value: float | None, digits: int = 0) -> str:
    """A number with its groups; a dash where there is none."""
    return NONE if value is None else f"{value:,.{digits}f}"


def share(value: float | None) -> str:
    """A share as a percentage."""
    return NONE if value is None else f"{100 * value:.1f} %"


FIGURES: tuple[tuple[str, str, Words], ...] = (
    ("requests", "asked for, and whoever has a place in these days", lambda f: number(f.requests)),
    ("booked", "have a place", lambda f: number(f.booked)),
    ("left out", "have none in these days", lambda f: number(f.left)),
    ("left out though due", "due within these days, without a place", lambda f: number(f.overdue)),
    ("booked late", "after their due date", lambda f: number(f.late)),
    ("moved or lost", "appointments that would not stand", lambda f: number(f.moved)),
    ("wait", "mean days from release to the session", lambda f: number(f.wait_days, 1)),
    ("planned minutes", "of all sessions", lambda f: number(f.minutes)),
    ("worst promise", "largest chance of a long wait, of those placed", lambda f: share(f.worst)),
    ("cost", "what the programme's costs come to", lambda f: number(f.cost)),
    ("bound", "no plan with these lengths costs less", lambda f: number(f.bound)),
    ("gap", "cost over bound; part of it is the bound's weakness", lambda f: share(f.gap)),
)


def figure_rows(found: Review, other: tuple[PlanRun, Review] | None) -> list[FigureRow]:
    """Every figure of the run beside the others."""
    there = other[1].figures if other else None
    return [
        FigureRow(name, meaning, words(found.in_force), words(found.figures),
                  words(there) if there else NONE)
        for name, meaning, words in FIGURES
    ]  # fmt: skip
