"""Rows as text for the terminal, and as the table that the README shows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tests.bench.contest import CONTESTANTS
from tests.bench.rows import Row, mean, sessions_against_slots

NONE = "-"
HEADS = (
    *("network", "planner", "cost", "booked", "gap", "gap, promises kept", "gap as capacity"),
    "sessions against slots",
    *("over the promise", "worst chance", "session minutes / room", "seconds", "peak MB"),
)


@dataclass(frozen=True, slots=True)
class Line:
    """One contestant on all networks of a case; figures are means over the networks with a plan.

    ``ended`` says what came of the networks without a plan, most frequent first.
    """

    case: str
    contestant: str
    networks: int
    plans: int
    requests: float
    ended: str
    cost: float | None
    booked: float | None
    gap: float | None
    gap_kept: float | None
    gap_capacity: float | None
    against_slots: float | None
    over: float | None
    worst: float | None
    used: float | None
    seconds: float | None
    peak_mb: float | None


def lines(rows: Sequence[Row]) -> list[Line]:
    """Rows of one case and contestant together: cases as they come, contestants in their order."""
    ratio = sessions_against_slots(rows)
    cases = list(dict.fromkeys(row.case for row in rows))
    place = {name: k for k, name in enumerate(CONTESTANTS)}
    rows = sorted(
        rows,
        key=lambda row: (cases.index(row.case), place.get(row.contestant, len(place)), row.seed),
    )
    groups: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        groups.setdefault((row.case, row.contestant), []).append(row)
    found = []
    for (case, contestant), group in groups.items():
        made = [row for row in group if row.has_plan]
        words = [row.ended for row in group if not row.has_plan]
        found.append(
            Line(
                case=case,
                contestant=contestant,
                networks=len(group),
                plans=len(made),
                requests=mean(row.requests for row in group) or 0,
                ended="; ".join(sorted(set(words), key=lambda word: (-words.count(word), word))),
                cost=mean(row.cost for row in made),
                booked=mean(row.booked for row in made),
                gap=mean(row.gap for row in made),
                gap_kept=mean(row.gap_kept for row in made),
                gap_capacity=mean(row.gap_capacity for row in made),
                against_slots=mean(ratio.get((*row.network, contestant)) for row in made),
                over=mean(row.over for row in made),
                worst=max((row.worst for row in made if row.worst is not None), default=None),
                used=mean(row.used for row in made),
                seconds=mean(row.taken_s for row in group),
                peak_mb=max(row.peak_mb for row in group),
            )
        )
    return found


def cells(line: Line) -> tuple[str, ...]:
    """A line as words under `HEADS`."""
    cost = _shown(line.cost, "{:,.0f}")
    if line.plans < line.networks:
        some = f" ({line.plans} of {line.networks})" if line.plans else ""
        cost = f"{cost}{some}, else {line.ended}" if line.plans else line.ended
    return (
        line.case,
        CONTESTANTS[line.contestant].words if line.contestant in CONTESTANTS else line.contestant,
        cost,
        _shown(line.booked, "{:,.0f}") + (f" of {line.requests:,.0f}" if line.plans else ""),
        _shown(line.gap, "{:.1%}"),
        _shown(line.gap_kept, "{:.1%}"),
        _shown(line.gap_capacity, "{:.1%}"),
        _shown(line.against_slots, "{:.2f}"),
        _shown(line.over, "{:.1%}"),
        _shown(line.worst, "{:.2f}"),
        _shown(line.used, "{:.2f}"),
        _shown(line.seconds, "{:.1f}"),
        _shown(line.peak_mb, "{:,.0f}"),
    )


def _shown(value: float | None, form: str) -> str:
    return NONE if value is None else form.format(value)


def markdown(rows: Sequence[Row], command: str) -> str:
    """The table for the README, with the command that made it and what its columns mean."""
    count = len({(row.case, row.seed) for row in rows})
    head = "| " + " | ".join(HEADS) + " |"
    rule = "| " + " | ".join("---" if k < 2 else "---:" for k in range(len(HEADS))) + " |"
    body = ["| " + " | ".join(cells(line)) + " |" for line in lines(rows)]
    return "\n".join(
        [
            head,
            rule,
            *body,
            "",
            f"Made by `{command}` on {count} networks; means over the networks of a line, but the "
            "largest *worst chance* and *peak MB*.",
            "*Gap* is to the strongest bound that anybody proved; *promises kept*: to the one for "
            "plans that keep the promises; *as capacity*: the room that could go before that one "
            "costs as much. *Over the promise* is the share of bookings whose subject waits too "
            "long more often than the policy promises.",
            "",
        ]
    )


def terminal(rows: Sequence[Row]) -> str:
    """The same figures in columns of equal width."""
    return aligned([HEADS, *(cells(line) for line in lines(rows))])


def aligned(table: Sequence[tuple[str, ...]], left: Callable[[int], bool] = lambda k: k < 2) -> str:
    """Columns of equal width, the first two to the left."""
    widths = [max(len(cell) for cell in column) for column in zip(*table, strict=True)]
    return "\n".join(
        "  ".join(
            cell.ljust(width) if left(k) else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in table
    )


def news(row: Row) -> str:
    """One row as it comes in."""
    head = f"{row.case} seed {row.seed} {row.contestant}: "
    tail = f"{row.taken_s:.1f} s, {row.peak_mb:,.0f} MB"
    if not row.has_plan:
        return f"{head}{row.ended}; {tail}"
    kept = "promises kept" if not row.over and not row.late_ends else (
        f"{row.over or 0:.1%} over the promise, worst {row.worst or 0:.2f}"
    )  # fmt: skip
    broken = f", {row.broken} RULES BROKEN ({row.word})" if row.broken else ""
    word = f" ({row.word})" if row.word and not row.broken else ""
    cost = f"cost {row.cost:,.2f}{word}, {row.booked} booked, {kept}{broken}"
    return f"{head}{cost}; {tail}"
