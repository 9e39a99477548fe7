"""A plan as a table of appointments, and the check that a place can be written."""

from __future__ import annotations

import csv
import io
import tempfile
from pathlib import Path

from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.units import DAY, day_text

COLUMNS = (
    "site", "timezone", "date", "told", "start", "end", "minutes", "station", "technician",
    "request", "profile", "rework", "fixed", "due", "days_late", "p_wait",
)  # fmt: skip

FORMULA = ("=", "+", "-", "@", "\t", "\r")


def appointments_csv(network: Network, plan: Plan) -> bytes:
    """The bookings as CSV (UTF-8, a head line), by site, time and station.

    ``told``, ``start`` and ``end`` are the site's wall clock; ``minutes`` is the planned length,
    ``p_wait`` a probability, ``days_late`` calendar days after ``due``. A text that a spreadsheet
    would run as a formula is written behind an apostrophe.
    """
    requests = {item.id: item for item in network.requests}
    zones = {item.id: item.timezone for item in network.sites}
    fixed = {item.request for item in network.appointments if item.fixed}
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for item in sorted(plan.bookings, key=lambda item: (item.site, item.start, item.station)):
        request = requests[item.request]
        day = item.start // DAY
        there = next(choice for choice in request.sites if choice.site == item.site)
        row = (
            item.site,
            zones[item.site],
            day_text(day, network.first_day),
            _clock(item.told),
            _clock(item.start),
            _clock(item.start + item.minutes),
            str(item.minutes),
            item.station,
            item.technician,
            item.request,
            there.profile or request.profile,
            _yes(request.rework),
            _yes(item.request in fixed),
            day_text(request.due, network.first_day),
            str(max(0, day - request.due)),
            f"{item.p_wait:.4f}",
        )
        writer.writerow([_plain(text) for text in row])
    return out.getvalue().encode()


def refuse_unwritable(path: Path, *inputs: Path) -> None:
    """Find out before a long run whether its result can be written.

    Raises FileRefused where ``path`` is a folder, is one of ``inputs``, or lies in a folder that
    cannot be written.
    """
    if path.is_dir():
        raise FileRefused([Fault(str(path), "is a folder", "name a file")])
    if any(path.resolve() == item.resolve() for item in inputs):
        problem = "is a file that is read in this run"
        raise FileRefused([Fault(str(path), problem, "name another file")])
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}."):
            pass
    except OSError as error:
        problem = f"cannot be written ({error.strerror or error})"
        raise FileRefused(
            [Fault(str(path), problem, "name a folder that can be written")]
        ) from error


def _clock(minute: int) -> str:
    return f"{minute % DAY // 60:02d}:{minute % 60:02d}"


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _plain(text: str) -> str:
    return f"'{text}" if text.startswith(FORMULA) else text
