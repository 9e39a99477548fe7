"""An appointment as an iCalendar file (RFC 5545), for a message about it (iTIP, RFC 5546).

The event keeps the wall clock that the subject was told, with the zone's rules beside it: should
the rules change, the file still says what the clock on the wall will show.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID

from icalendar import Calendar, Event, vCalAddress, vGeo, vText

from sites.clock import instant, zone_of
from sites.crypto import keyed
from sites.errors import BadValue
from sites.models import Appointment

PRODID = "-//Platen//Appointments//EN"
REQUEST, CANCEL, PUBLISH = "REQUEST", "CANCEL", "PUBLISH"
"""RFC 5546, 1.4: to be put in, to be taken out, to be looked at."""


@dataclass(frozen=True, slots=True)
class Invite:
    """What the file says besides the appointment's own place and time.

    Without ``attendee`` (an email address) the file is for whoever opens it, not for one mailbox.
    """

    method: str
    summary: str
    description: str
    organizer: str
    attendee: str = ""


def uid_of(code: str) -> str:
    """The same for every file of an appointment, and nothing can be read from it.

    A UUID of RFC 9562 (version 8, its bits made by us), as RFC 7986, 5.3 asks of a UID.
    """
    bits = int.from_bytes(keyed("calendar", code)[:16], "big")
    bits = bits & ~(0xF << 76) | (8 << 76)
    bits = bits & ~(0b11 << 62) | (0b10 << 62)
    return str(UUID(int=bits))


def told_at(appointment: Appointment) -> datetime:
    """The told time with its zone; the planned start where no clock shows the told time."""
    zone = appointment.station.site.timezone
    try:
        at = instant(zone, appointment.day, appointment.told_minute)
    except BadValue:
        at = appointment.starts_at
    return at.astimezone(zone_of(zone))


def calendar_file(appointment: Appointment, invite: Invite, *, at: datetime) -> bytes:
    """The file: one event from the told time to the planned end, its zone, method and sequence.

    ``appointment`` comes with its station and site. The sequence is the appointment's version, so
    that each change outdoes the one before it (RFC 5545, 3.8.7.4).
    """
    site = appointment.station.site
    starts = told_at(appointment)
    ends = max(appointment.ends_at, starts + timedelta(minutes=1)).astimezone(starts.tzinfo)
    event = Event()
    event.add("uid", uid_of(appointment.code))
    event.add("dtstamp", at.astimezone(UTC))
    event.add("sequence", appointment.version - 1)
    event.add("dtstart", starts)
    event.add("dtend", ends)
    event.add("summary", invite.summary)
    event.add("description", invite.description)
    event.add("location", ", ".join([site.name, *site.directions.split("\n")]).strip(", "))
    event.add("status", "CANCELLED" if invite.method == CANCEL else "CONFIRMED")
    event.add("transp", "OPAQUE")
    if site.latitude is not None and site.longitude is not None:
        event.add("geo", vGeo((site.latitude, site.longitude)))
    if invite.attendee:
        organizer = vCalAddress(f"mailto:{invite.organizer}")
        event.add("organizer", organizer)
        attendee = vCalAddress(f"mailto:{invite.attendee}")
        attendee.params["ROLE"] = vText("REQ-PARTICIPANT")
        attendee.params["RSVP"] = vText("FALSE")  # nobody reads answers of calendars
        event.add("attendee", attendee, encode=False)
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", invite.method)
    calendar.add_component(event)
    year = timedelta(days=366)
    calendar.add_missing_timezones(first_date=starts.date() - year, last_date=starts.date() + year)
    found: bytes = calendar.to_ical()
    return found
