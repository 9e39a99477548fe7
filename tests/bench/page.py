"""The results as a page of the house: the table first, the drawing beside it, nothing fetched."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from planner.gateway.board import STATIC
from tests.bench.chart import cost_against_size
from tests.bench.rivals.jobshop import CANNOT
from tests.bench.rows import OURS, Row
from tests.bench.table import HEADS, Line, cells, lines

STYLE = """
svg.cost { max-width: 60rem; width: 100%; height: auto; }
svg.cost text { font-size: 12px; fill: var(--ink); }
svg.cost polyline { fill: none; stroke: var(--quiet); stroke-width: 1.5; }
svg.cost circle { fill: var(--paper); stroke: var(--quiet); stroke-width: 1.5; }
svg.cost .ours polyline { stroke: var(--accent); stroke-width: 3; }
svg.cost .ours circle { fill: var(--accent); stroke: var(--accent); }
svg.cost .lead { stroke: var(--rule); }
.ours th, .ours td { font-weight: 600; }
tbody th { white-space: nowrap; }
td:nth-child(2) { min-width: 14rem; }
td.n { white-space: nowrap; }
td.n:nth-child(3) { white-space: normal; }
code { overflow-wrap: anywhere; }
@media screen and (max-width: 48rem) { .scroll { max-height: none; } }
"""
EACH = (
    *("network", "seed", "planner", "ended", "cost", "bound", "gap", "gap kept", "booked"),
    *("over", "worst", "late ends", "seconds asked", "taken", "peak MB"),
)

_NUMBER = ' class="n"'


def page(rows: Sequence[Row], command: str) -> str:
    """One HTML page with its style inside."""
    style = (STATIC / "board.css").read_text(encoding="utf-8") + STYLE
    found = lines(rows)
    means = [
        _row(cells(line), "ours" if line.contestant == OURS else "", words=2) for line in found
    ]
    each = [_row(_each(row), "ours" if row.contestant == OURS else "", words=4) for row in rows]
    cannot = "".join(f"<li>{escape(text)}</li>" for text in CANNOT)
    drawings = "".join(_drawings(found))
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="generator" content="Platen">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>Plans side by side - Platen</title>
<style>{style}</style>
</head>
<body>
<a class="skip" href="#main">To the page</a>
<main id="main">
<h1>Plans side by side</h1>
<p class="answers">What plans of the same networks cost, made on one machine and judged alike.</p>
<p>Made by <code>{escape(command)}</code></p>
<h2>Means over networks</h2>
<div class="scroll" tabindex="0" role="region" aria-label="Means over networks">
<table><thead>{_head(HEADS, words=2)}</thead><tbody>
{"".join(means)}
</tbody></table></div>
<p>Cost is the network's own objective, and smaller is better. Gap is to the strongest bound that
anybody proved. Where promises are kept, the other gap is to a bound for plans that keep them; gap
as capacity says by how much every site-day could shrink before that one reaches the cost. Over the
promise is the share of bookings whose subject waits too long more often than the policy
promises; first come, first served and the whole models do not look at promises. Session minutes are
expected ones, nobody who stays away taking any; room is that of rule 8. The worst chance and the
peak are the largest of the line.</p>
<h2>Cost against size</h2>
{drawings or "<p>No plan has a cost above 0: nothing to draw.</p>"}
<h2>Each network</h2>
<div class="scroll" tabindex="0" role="region" aria-label="Each network">
<table><thead>{_head(EACH, words=4)}</thead><tbody>
{"".join(each)}
</tbody></table></div>
<h2>What PyJobShop cannot state</h2>
<ul>{cannot}</ul>
<p>Its plan is charged by the full objective all the same.</p>
</main>
<footer><p>The networks are invented. Seconds and memory are those of the machine that ran this;
ratios within one run count.</p></footer>
</body>
</html>
"""


def _drawings(found: Sequence[Line]) -> list[str]:
    """One drawing for each load: the words after a size's name say what is different."""
    groups: dict[str, list[Line]] = {}
    for line in found:
        groups.setdefault(line.case.partition(" ")[2], []).append(line)
    return [
        f"<p>{escape(words[0].upper() + words[1:]) if words else 'As generated'}</p>\n{drawing}\n"
        for words, group in groups.items()
        if (drawing := cost_against_size(group))
    ]


def _head(names: Sequence[str], *, words: int) -> str:
    cells = (
        f'<th scope="col"{"" if k < words else _NUMBER}>{escape(name)}</th>'
        for k, name in enumerate(names)
    )
    return f"<tr>{''.join(cells)}</tr>"


def _row(values: Sequence[str], kind: str, *, words: int) -> str:
    first, *rest = values
    tail = "".join(
        f"<td{'' if k < words else _NUMBER}>{escape(value)}</td>"
        for k, value in enumerate(rest, start=1)
    )
    name = f' class="{kind}"' if kind else ""
    return f'<tr{name}><th scope="row">{escape(first)}</th>{tail}</tr>\n'


def _each(row: Row) -> tuple[str, ...]:
    def shown(value: float | None, form: str) -> str:
        return "-" if value is None else form.format(value)

    return (
        row.case, str(row.seed), row.contestant, row.word or row.ended, shown(row.cost, "{:,.1f}"),
        shown(row.bound, "{:,.1f}"), shown(row.gap, "{:.2%}"), shown(row.gap_kept, "{:.2%}"),
        shown(row.booked, "{:,}"),
        shown(row.over, "{:.1%}"), shown(row.worst, "{:.3f}"), shown(row.late_ends, "{}"),
        f"{row.asked_s:.0f}", f"{row.taken_s:.1f}", f"{row.peak_mb:,.0f}",
    )  # fmt: skip
