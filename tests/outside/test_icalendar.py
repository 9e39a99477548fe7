"""Calendar files read again by vobject and by hand, against RFC 5545 (seen), 5546, 7986 and 9562.

The wall clocks and offsets of the days are those of the IANA zone database; the changes of clocks
named below are from directive 2000/84/EC (Vienna) and from the zone database (the others).
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
import vobject

from sites.clock import visit_span
from sites.models import Appointment, Request, Site, Station
from sites.notices.calendar import CANCEL, PUBLISH, REQUEST, Invite, calendar_file, uid_of
from tests.sites.build import NOW

DIRECTIONS = 'Härmelgaße 12; 2nd floor, "left" door\\right\nway in without steps: ring twice, wait'
INVITE = Invite(
    method=REQUEST,
    summary="Appointment: Site 1, north; upper",
    description="Bring: a, b; c\\d\n\n" + "Für die Hände: zweimal täglich. " * 12,
    organizer="desk@example.invalid",
    attendee="ilmi@example.invalid",
)
CASES = [
    # zone, day, told minute, offset in hours: around changes of clocks, and where none are
    ("Europe/Vienna", date(2026, 3, 28), 600, 1),
    ("Europe/Vienna", date(2026, 3, 29), 600, 2),
    ("Europe/Vienna", date(2026, 10, 24), 600, 2),
    ("Europe/Vienna", date(2026, 10, 25), 600, 1),
    ("America/Chicago", date(2026, 3, 7), 510, -6),
    ("America/Chicago", date(2026, 3, 8), 510, -5),
    ("America/Chicago", date(2026, 11, 1), 510, -6),
    ("America/Phoenix", date(2026, 7, 1), 510, -7),
    ("Australia/Sydney", date(2026, 10, 3), 540, 10),
    ("Australia/Sydney", date(2026, 10, 4), 540, 11),
    ("Australia/Lord_Howe", date(2026, 7, 1), 540, 10.5),
    ("Australia/Lord_Howe", date(2026, 12, 1), 540, 11),
    ("Asia/Kathmandu", date(2027, 1, 5), 615, 5.75),
    ("UTC", date(2027, 1, 5), 615, 0),
]


def appointment(
    zone: str = "Europe/Vienna", day: date = date(2026, 3, 28), minute: int = 600, **values: Any
) -> Appointment:
    """A booking that stands in no database."""
    site = Site(code="s", name="Site 1", timezone=zone, directions=DIRECTIONS)
    return Appointment(
        **{
            "code": "a-1",
            "request": Request(reference="r-1"),
            "station": Station(code="st", site=site),
            "told_minute": minute // 5 * 5,
            **visit_span(zone, day, minute, 25),
            **values,
        }
    )


def read(file: bytes) -> Any:
    """The event, as vobject reads it."""
    return vobject.readOne(file.decode()).vevent


@pytest.mark.parametrize(("zone", "day", "minute", "offset"), CASES)
def test_another_library_reads_the_same_instant_and_the_same_wall_clock(
    zone: str, day: date, minute: int, offset: float
) -> None:
    one = appointment(zone, day, minute + 2)
    event = read(calendar_file(one, INVITE, at=NOW))
    starts, ends = event.dtstart.value, event.dtend.value
    wall = datetime.combine(day, datetime.min.time()) + timedelta(minutes=minute)
    assert starts.replace(tzinfo=None) == wall
    assert starts.utcoffset() == timedelta(hours=offset)
    assert starts.astimezone(UTC) == one.starts_at - timedelta(minutes=2)
    assert ends.astimezone(UTC) == one.ends_at
    assert starts.utcoffset() == wall.replace(tzinfo=ZoneInfo(zone)).utcoffset()


@pytest.mark.parametrize("method", [REQUEST, CANCEL])
def test_what_a_method_must_have_is_there_once(method: str) -> None:
    """RFC 5545, 3.6 and 3.6.1; RFC 5546, 3.2.2 and 3.2.5."""
    invite = Invite(method, INVITE.summary, INVITE.description, "d@x.invalid", "i@x.invalid")
    lines = unfolded(calendar_file(appointment(), invite, at=NOW))
    names = [re.split("[:;]", line)[0] for line in lines]
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    for name in ("PRODID", "VERSION", "METHOD", "UID", "DTSTAMP", "SEQUENCE", "ORGANIZER"):
        assert names.count(name) == 1, name
    for name in ("ATTENDEE", "STATUS", "SUMMARY"):
        assert names.count(name) == 1, name
    assert "VERSION:2.0" in lines
    assert f"METHOD:{method}" in lines
    assert ("STATUS:CANCELLED" in lines) == (method == CANCEL)
    stamp = next(line for line in lines if line.startswith("DTSTAMP"))
    assert stamp == "DTSTAMP:20260302T080000Z"  # 3.8.7.2: in UTC


def test_the_zone_is_described_in_the_file() -> None:
    """RFC 5545, 3.2.19: a TZID needs its VTIMEZONE in the same object; UTC has none."""
    lines = unfolded(calendar_file(appointment(), INVITE, at=NOW))
    assert "DTSTART;TZID=Europe/Vienna:20260328T100000" in lines
    assert lines.count("TZID:Europe/Vienna") == lines.count("BEGIN:VTIMEZONE") == 1
    assert "BEGIN:DAYLIGHT" in lines
    in_utc = unfolded(calendar_file(appointment("UTC"), INVITE, at=NOW))
    assert "DTSTART:20260328T100000Z" in in_utc


def test_lines_end_and_are_folded_as_the_rules_say() -> None:
    """RFC 5545, 3.1: CRLF; at most 75 octets a line without it; characters stay whole."""
    file = calendar_file(appointment(), INVITE, at=NOW)
    assert file.endswith(b"\r\n")
    assert file.count(b"\n") == file.count(b"\r\n") == file.count(b"\r")
    lines = file.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode("utf-8")


def test_text_is_escaped_and_comes_back_whole() -> None:
    """RFC 5545, 3.3.11: backslash, semicolon, comma, line break are escaped, a colon is not."""
    file = calendar_file(appointment(), INVITE, at=NOW)
    lines = unfolded(file)
    assert "SUMMARY:Appointment: Site 1\\, north\\; upper" in lines
    described = next(line for line in lines if line.startswith("DESCRIPTION"))
    assert described.startswith("DESCRIPTION:Bring: a\\, b\\; c\\\\d\\n\\nFür")
    event = read(file)
    assert event.summary.value == INVITE.summary
    assert event.description.value.strip() == INVITE.description.strip()
    assert "2nd floor" in event.location.value
    assert "way in without steps" in event.location.value


def test_the_uid_stays_and_the_sequence_rises_over_changes_and_the_end() -> None:
    """RFC 5545, 3.8.4.7 and 3.8.7.4; RFC 5546, 2.1.4 and 3.2.5."""
    files = [
        calendar_file(appointment(version=1), INVITE, at=NOW),
        calendar_file(appointment(version=2, day=date(2026, 3, 30)), INVITE, at=NOW),
        calendar_file(
            appointment(version=3), Invite(CANCEL, "s", "d", "o@x.invalid", "i@x.invalid"), at=NOW
        ),
    ]
    events = [read(file) for file in files]
    assert len({event.uid.value for event in events}) == 1
    assert [int(event.sequence.value) for event in events] == [0, 1, 2]


def test_a_uid_is_a_uuid_that_says_nothing() -> None:
    """RFC 7986, 5.3: no host names, no identifying data; RFC 9562, 5.8: version 8, variant 10."""
    uid = UUID(uid_of("a-1"))
    assert (uid.version, uid.variant) == (8, "specified in RFC 4122")
    assert uid_of("a-1") == str(uid) != uid_of("a-2")


def test_nothing_in_the_file_names_the_subject_but_their_own_address() -> None:
    file = calendar_file(appointment(), INVITE, at=NOW).decode()
    assert "r-1" not in file
    assert "a-1" not in file
    assert file.count("ilmi") == 1
    shown = Invite(PUBLISH, INVITE.summary, INVITE.description, INVITE.organizer)
    public = calendar_file(appointment(), shown, at=NOW).decode()
    assert "mailto" not in public
    assert "METHOD:PUBLISH" in public


@pytest.mark.parametrize(
    ("minute", "utc"),
    [(90, "2026-10-24T23:30"), (150, "2026-10-25T00:30"), (180, "2026-10-25T02:00")],
)
def test_an_hour_that_comes_twice_is_its_first(minute: int, utc: str) -> None:
    """RFC 5545, 3.3.5: a local time that comes twice means its first; Vienna, 25 October 2026."""
    event = read(calendar_file(appointment(day=date(2026, 10, 25), minute=minute), INVITE, at=NOW))
    assert event.dtstart.value.astimezone(UTC).isoformat()[:16] == utc


def unfolded(file: bytes) -> list[str]:
    """Content lines (RFC 5545, 3.1), read by hand."""
    return file.decode().replace("\r\n ", "").rstrip("\r\n").split("\r\n")
