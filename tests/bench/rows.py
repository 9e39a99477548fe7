"""One row for each contestant on each network, as CSV; what several rows say together."""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass, fields, replace
from pathlib import Path
from statistics import fmean
from typing import Any, get_type_hints

from planner.gateway.files import write_whole
from tests.bench.apart import DONE

OURS, SLOTS = "platen", "first-come-95"


@dataclass(frozen=True, slots=True)
class Row:
    """One contestant on one network. What only a plan has is None where there is none.

    ``load`` is demand over capacity; seconds are wall-clock, asked and taken; ``gap`` is cost over
    the strongest bound that anybody proved on the network, less 1; ``bound`` is None where it was
    proven for longer lengths than ours; ``bound_holds`` says that a bound for our lengths holds for
    this plan's too; ``strong`` is what no plan of these lengths costs less than that keeps the
    promises, and ``gap_kept`` the gap to it of a plan that does; ``gap_capacity`` is the room that
    could go before that bound costs as much; ``lengths`` are minutes by profile, as JSON.
    The rest is as in `judge.Verdict`.
    """

    case: str
    seed: int
    load: float | None
    requests: int
    sites: int
    station_days: int
    contestant: str
    ended: str
    asked_s: float
    taken_s: float
    peak_mb: float
    cost: float | None = None
    booked: int | None = None
    bound: float | None = None
    gap: float | None = None
    strong: float | None = None
    gap_kept: float | None = None
    gap_capacity: float | None = None
    over: float | None = None
    worst: float | None = None
    late_ends: int | None = None
    used: float | None = None
    broken: int | None = None
    bound_holds: bool = True
    lengths: str = ""
    word: str = ""

    @property
    def network(self) -> tuple[str, int]:
        """What rows that can be compared share."""
        return self.case, self.seed

    @property
    def keeps_promises(self) -> bool:
        """Whether there is a plan, and no promise that the judge found broken."""
        return self.over == 0 and self.late_ends == 0

    @property
    def has_plan(self) -> bool:
        """Whether there is a plan to speak of."""
        return self.ended == DONE


def with_gaps(rows: Iterable[Row]) -> list[Row]:
    """The rows with their gaps to the strongest bounds proven on the same network."""
    rows = list(rows)
    floor: dict[tuple[str, int], float] = defaultdict(float)
    strong: dict[tuple[str, int], float] = defaultdict(float)
    for row in rows:
        floor[row.network] = max(floor[row.network], row.bound or 0.0)
        strong[row.network] = max(strong[row.network], row.strong or 0.0)
    return [
        replace(
            row,
            gap=_gap(row, floor[row.network]),
            gap_kept=_gap(row, strong[row.network]) if row.keeps_promises else None,
        )
        for row in rows
    ]


def _gap(row: Row, bound: float) -> float | None:
    if row.cost is None or bound <= 0 or not row.bound_holds:
        return None
    return row.cost / bound - 1


def sessions_against_slots(rows: Iterable[Row]) -> dict[tuple[str, int, str], float]:
    """Bookings over those of `SLOTS` on the same network, by network and contestant."""
    rows = [row for row in rows if row.has_plan]
    slots = {row.network: row.booked for row in rows if row.contestant == SLOTS and row.booked}
    found = {}
    for row in rows:
        base = slots.get(row.network)
        if base and row.booked is not None:
            found[(*row.network, row.contestant)] = row.booked / base
    return found


def write_rows(path: Path, rows: Sequence[Row]) -> None:
    """All rows, unrounded, under their names; replaces the file whole."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([field.name for field in fields(Row)])
    writer.writerows(astuple(row) for row in rows)
    write_whole(path, out.getvalue().encode())


def read_rows(path: Path) -> list[Row]:
    """Rows as `write_rows` wrote them.

    Raises ValueError with line and column where a value cannot be read, and where columns differ.
    """
    kinds = get_type_hints(Row)
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        names = [field.name for field in fields(Row)]
        if reader.fieldnames != names:
            raise ValueError(f"{path}: its columns are not those of this benchmark; name another")
        return [
            Row(**{name: _value(path, line, name, kinds[name], text[name]) for name in names})
            for line, text in enumerate(reader, start=2)
        ]


def _value(path: Path, line: int, name: str, kind: Any, text: str) -> Any:
    if kind is str:
        return text
    if kind is bool:
        return text == "True"
    if not text:
        return None
    try:
        return float(text) if "float" in str(kind) else int(text)
    except ValueError:
        raise ValueError(f"{path}, line {line}, {name}: {text!r} is no number") from None


def mean(values: Iterable[float | None]) -> float | None:
    """The mean of those there are."""
    there = [value for value in values if value is not None]
    return fmean(there) if there else None
