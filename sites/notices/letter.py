"""A notice as a letter: subject line, plain text, HTML, and the calendar file that goes with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.utils import formats, translation
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from sites.clock import minute_words
from sites.models import Appointment, NoticeKind, Programme, Request
from sites.notices.calendar import CANCEL, REQUEST, Invite, calendar_file, told_at
from sites.notices.defaults import HANDS, WAIT, Text
from sites.notices.words import filled

BRING = "The identity document that the programme asks for, and this letter."
HIDDEN = "(the subject's name)"
SUMMARY = "Appointment: {site}"
WITH_CALENDAR = {
    NoticeKind.BOOKED: REQUEST,
    NoticeKind.MOVED: REQUEST,
    NoticeKind.REMINDER: REQUEST,
    NoticeKind.CANCELLED: CANCEL,
}


@dataclass(frozen=True, slots=True)
class Letter:
    """What a subject reads; ``calendar`` is a file, with its iTIP ``method``."""

    heading: str
    text: str
    html: SafeString
    calendar: bytes = b""
    method: str = ""


def letter_values(
    request: Request, appointment: Appointment | None, *, language: str = "", named: bool = True
) -> dict[str, str]:
    """The variables' values; without ``named`` the subject's name is left out.

    ``request`` comes with subject and programme, ``appointment`` with station and site.
    """
    programme = request.terms.programme
    found = {
        "name": one_line(f"{request.subject.given_name} {request.subject.family_name}"),
        "reference": request.reference,
        **programme_values(programme),
    }
    if not named:
        found["name"] = HIDDEN
    elif not found["name"]:
        found["name"] = f"holder of number {request.reference}"
    if appointment is not None:
        found |= appointment_values(appointment, language)
    return found


def programme_values(programme: Programme) -> dict[str, str]:
    """What a programme says in all of its letters."""
    return {
        "programme": one_line(programme.name),
        "contact": one_line(programme.contact),
        "bring": programme.bring.strip() or BRING,
        "hands": HANDS,
        "wait": WAIT,
    }


def appointment_values(appointment: Appointment, language: str = "") -> dict[str, str]:
    """Where and when, the day in words of the language where it is known."""
    site = appointment.station.site
    told = told_at(appointment)
    until = (appointment.ends_at - told).total_seconds() / 60
    return {
        "site": one_line(site.name),
        "directions": site.directions.strip(),
        "day": day_words(told, language),
        "time": minute_words(told.hour * 60 + told.minute),
        "zone": f"{site.timezone}, UTC{told.isoformat()[-6:]}",
        "minutes": f"{-int(-until // 5) * 5}",
    }


def day_words(day: datetime, language: str) -> str:
    """``Tuesday 9 March 2027``, in a language that Django has words for, else in English."""
    known = language if language and translation.check_for_language(language) else "en"
    with translation.override(known):
        return formats.date_format(day, "l j F Y")


def one_line(text: str) -> str:
    """A text without breaks: it may stand in a subject line."""
    return " ".join(text.split())


def compose(text: Text, values: Mapping[str, str]) -> Letter:
    """The letter without a calendar file."""
    body = filled(text.body, values)
    return Letter(one_line(filled(text.heading, values)), body, html_of(body))


def compose_for(
    kind: NoticeKind,
    text: Text,
    request: Request,
    appointment: Appointment | None,
    *,
    organizer: str,
    at: datetime,
) -> Letter:
    """The whole letter to a request's subject, as it is sent."""
    values = letter_values(request, appointment, language=request.subject.language)
    letter = compose(text, values)
    method = WITH_CALENDAR.get(kind, "")
    if not method or appointment is None:
        return letter
    invite = Invite(
        method=method,
        summary=filled(SUMMARY, values),
        description=note_of(values),
        organizer=organizer,
        attendee=request.subject.email,
    )
    file = calendar_file(appointment, invite, at=at)
    return Letter(letter.heading, letter.text, letter.html, file, method)


def note_of(values: Mapping[str, str]) -> str:
    """What stands in the calendar beside the appointment: nothing that names anybody."""
    parts = ("bring", "hands", "wait", "contact")
    return "\n\n".join(values[name] for name in parts if values[name])


def html_of(text: str) -> SafeString:
    """The text as paragraphs and lists; nothing is fetched, nothing runs."""
    parts = []
    for block in text.split("\n\n"):
        plain: list[str] = []
        items: list[str] = []
        for line in block.splitlines():
            if line.startswith("- "):
                items.append(f"<li>{escape(line[2:])}</li>")
            elif items:
                items[-1] = items[-1].removesuffix("</li>") + f" {escape(line.strip())}</li>"
            else:
                plain.append(str(escape(line)))
        if plain:
            parts.append(f"<p>{'<br>'.join(plain)}</p>")
        if items:
            parts.append(f"<ul>{''.join(items)}</ul>")
    return mark_safe("\n".join(parts))  # noqa: S308 - every line is escaped above


def html_page(letter: Letter) -> str:
    """The HTML part of a message."""
    return (
        '<!doctype html>\n<html><head><meta charset="utf-8">'
        f"<title>{escape(letter.heading)}</title></head>\n<body>\n{letter.html}\n</body></html>\n"
    )
