"""The fields of the network file, record by record."""

from __future__ import annotations

from operator import attrgetter
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from planner.engine import network as model
from planner.engine.codec.kinds import (
    NUMBER,
    TEXT,
    TRUTH,
    WHOLE,
    WORD,
    Kind,
    calendar_date,
    day_number,
    minute_number,
    one_of,
    optional,
)
from planner.engine.codec.records import Field, listed, record

if TYPE_CHECKING:
    from datetime import date

FORMAT = "platen-network/1"

_WORDS = listed(WORD)

_COST = record(
    model.Cost,
    *(Field(key, NUMBER) for key in ("unbooked", "late_day", "wait_day", "travel_minute", "move")),
)
_POLICY = record(
    model.Policy,
    Field("wait_minutes", WHOLE),
    Field("wait_risk", NUMBER),
    Field("overtime_minutes", WHOLE),
    Field("overtime_risk", NUMBER),
    Field("cost", _COST),
)
_CAPTURE = record(
    model.Capture,
    Field("kind", TEXT),
    Field("count", WHOLE),
    Field("seconds", NUMBER),
    Field("retake", NUMBER),
)
_PROFILE = record(
    model.Profile,
    Field("id", WORD),
    Field("setup", record(model.Setup, Field("mean", NUMBER), Field("sd", NUMBER))),
    Field("captures", listed(_CAPTURE)),
    Field("max_attempts", WHOLE),
    Field("remedy_seconds", NUMBER),
    Field("wrapup", WHOLE),
    Field("no_show", NUMBER),
    Field("skills", _WORDS, ()),
)
_CHOICE = record(
    model.SiteChoice,
    Field("site", WORD),
    Field("travel", WHOLE),
    Field("profile", optional(WORD), None),
)


def network_kind(first_day: date) -> Kind:
    """A whole network, for times and dates counted from ``first_day``.

    It is read as a namespace of the network's attributes, so that a faulty one can exist.
    """
    day, minute = day_number(first_day), minute_number(first_day)
    start = Field("from", minute, get=attrgetter("start"))
    end = Field("to", minute, get=attrgetter("end"))
    windows = listed(_window(minute))
    station = record(
        model.Station,
        Field("id", WORD),
        Field("site", WORD),
        Field("features", _WORDS, ()),
        Field("closed", listed(record(model.Closure, start, end, Field("why", TEXT))), ()),
    )
    site = record(
        model.Site,
        Field("id", WORD),
        Field("name", TEXT),
        Field("timezone", WORD),
        Field("open", windows),
    )
    return record(
        _parts,
        Field("format", one_of(FORMAT), get=lambda _: FORMAT),
        Field("grain", WHOLE),
        Field("first_day", calendar_date(first_day)),
        Field("days", WHOLE),
        Field("policy", _POLICY),
        Field("profiles", listed(_PROFILE)),
        Field("sites", listed(site)),
        Field("stations", listed(station)),
        Field("technicians", listed(_technician(minute, start, end))),
        Field("requests", listed(_request(day, windows))),
        Field("care", listed(_care(day)), ()),
        Field("appointments", listed(_appointment(minute)), ()),
        Field("reserve", listed(_reserve(day)), ()),
    )


def request_kind(first_day: date) -> Kind:
    """One request, for times and dates counted from ``first_day``."""
    minute = minute_number(first_day)
    return _request(day_number(first_day), listed(_window(minute)))


def _window(minute: Kind) -> Kind:
    start = Field("from", minute, get=attrgetter("start"))
    return record(model.Window, start, Field("to", minute, get=attrgetter("end")))


def _parts(_format: str, *values: Any) -> SimpleNamespace:
    return SimpleNamespace(**dict(zip(model.Network.__slots__, values, strict=True)))


def _technician(minute: Kind, start: Field, end: Field) -> Kind:
    shift = record(
        _shift,
        Field("site", WORD),
        start,
        end,
        Field("break_minutes", WHOLE, 0),
        Field(
            "break_from",
            minute,
            None,
            get=attrgetter("break_start"),
            left_out=lambda s: not s.break_minutes or s.break_start == s.start,
        ),
        Field(
            "break_to",
            minute,
            None,
            get=attrgetter("break_end"),
            left_out=lambda s: not s.break_minutes or s.break_end == s.end,
        ),
    )
    return record(
        model.Technician,
        Field("id", WORD),
        Field("skills", _WORDS, ()),
        Field("shifts", listed(shift)),
    )


def _shift(site: str, start: int, end: int, minutes: int, *window: int | None) -> model.Shift:
    """A shift whose break may lie anywhere in it, where the file does not say."""
    since, until = window
    if since is None or not minutes:
        since = start
    if until is None or not minutes:
        until = end
    return model.Shift(site, start, end, minutes, since, until)


def _request(day: Kind, windows: Kind) -> Kind:
    return record(
        model.Request,
        Field("id", WORD),
        Field("profile", WORD),
        Field("release", day),
        Field("due", day),
        Field("weight", NUMBER),
        Field("sites", listed(_CHOICE)),
        Field("rework", TRUTH, absent=False),
        Field("available", windows, ()),
        Field("features", _WORDS, ()),
        Field("skills", _WORDS, ()),
        Field("unbooked", optional(NUMBER), None),
    )


def _care(day: Kind) -> Kind:
    return record(
        model.Care,
        Field("id", WORD),
        Field("station", WORD),
        Field("minutes", WHOLE),
        Field("earliest", day),
        Field("latest", day),
        Field("technician", TRUTH),
    )


def _appointment(minute: Kind) -> Kind:
    return record(
        model.Appointment,
        Field("id", WORD),
        Field("request", WORD),
        Field("station", WORD),
        Field("technician", WORD),
        Field("start", minute),
        Field("minutes", WHOLE),
        Field("fixed", TRUTH),
    )


def _reserve(day: Kind) -> Kind:
    return record(
        model.Reserve,
        Field("site", WORD),
        Field("date", day, get=attrgetter("day")),
        Field("minutes", WHOLE),
    )
