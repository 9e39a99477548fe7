"""Handing one message to the mail server, and what became of it: sent, refused, or not known."""

from __future__ import annotations

import smtplib
from dataclasses import dataclass
from email.utils import parseaddr
from enum import Enum
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMultiAlternatives
from django.core.validators import validate_email

from sites.crypto import keyed
from sites.notices.letter import Letter, html_page


class Fate(Enum):
    """What is known of a message after it was handed over."""

    SENT = "sent"
    LATER = "later"  # certainly not sent, may succeed later
    REFUSED = "refused"  # certainly not sent, will not succeed by itself
    UNSURE = "unsure"  # the line broke after the message may have been taken


@dataclass(frozen=True, slots=True)
class Handed:
    """The fate of a message, in words that name no person and no address."""

    fate: Fate
    fault: str = ""


def sender() -> str:
    """The bare address that messages come from."""
    return parseaddr(settings.DEFAULT_FROM_EMAIL)[1]


def is_address(text: str) -> bool:
    """Whether an email could be sent there."""
    try:
        validate_email(text)
    except ValidationError:
        return False
    return True


def message_id(notice: int, version: int) -> str:
    """The same for every try at one notice about one state of its appointment.

    A receiver that was handed the message twice can drop the second by it (RFC 5322, 3.6.4).
    """
    key = keyed("message", f"{notice}:{version}").hex()[:32]
    return f"<{key}@{sender().rpartition('@')[2] or 'localhost'}>"


def message_of(letter: Letter, *, to: str, key: str, reply_to: str = "") -> EmailMultiAlternatives:
    """The message: plain text, HTML, and the calendar once to be read and once to be opened."""
    message = EmailMultiAlternatives(
        subject=letter.heading,
        body=letter.text,
        to=[to],
        reply_to=[reply_to] if reply_to else None,
        headers={"Message-ID": key, "Auto-Submitted": "auto-generated"},  # RFC 3834, 5
    )
    message.attach_alternative(html_page(letter), "text/html")
    if letter.calendar:
        # RFC 6047, 2.4: the method stands in the content type too.
        part = f"text/calendar; method={letter.method}"
        message.attach_alternative(letter.calendar.decode(), part)
        message.attach("appointment.ics", letter.calendar, "application/ics")
    return message


def hand_over(connection: Any, message: EmailMultiAlternatives) -> Handed:
    """Send by an open connection. A reply code says what is known; without one it is not known."""
    try:
        message.message()
    except ValueError:  # an address that no header can hold
        return Handed(Fate.REFUSED, "the programme's address for answers cannot be used")
    try:
        connection.send_messages([message])
    except smtplib.SMTPRecipientsRefused as error:
        codes = [code for code, _ in error.recipients.values()]
        return refused(min(codes, default=500))
    except smtplib.SMTPResponseException as error:
        return refused(error.smtp_code)
    except (smtplib.SMTPException, OSError):
        return Handed(Fate.UNSURE, "the line to the mail server broke while it was being sent")
    return Handed(Fate.SENT)


def refused(code: int) -> Handed:
    """Reply codes of 4 and two digits may succeed later, of 5 will not (RFC 5321, 4.2.1)."""
    fault = f"the mail server refused it with code {code}"
    return Handed(Fate.LATER if 400 <= code < 500 else Fate.REFUSED, fault)
