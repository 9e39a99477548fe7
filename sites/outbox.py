"""The sender: takes notices that are due, hands them to the mail server, keeps what became of them.

Any number of senders can run at a time, on any machines: each takes other notices, and each write
names the try that it belongs to.
"""

from __future__ import annotations

import logging
import smtplib
from collections import Counter
from collections.abc import Callable
from datetime import datetime, timedelta
from threading import Event
from typing import Any

from django.conf import settings
from django.core.mail import get_connection
from django.db import connections
from django.utils import timezone

from sites.errors import BadValue
from sites.notices.post import Fate, Handed, hand_over, message_of
from sites.services.notices import (
    Taken,
    notice_close,
    notice_open,
    notice_put_back,
    notices_release,
    notices_settle,
    notices_take,
)
from sites.services.reminders import reminders_raise

log = logging.getLogger("platen.notices")
BATCH = 20
NO_SERVER = "no mail server answered"
PAUSE = timedelta(minutes=1)


def present() -> datetime:
    """The present of the record: the clock, or the instant at which it is held."""
    held: datetime | None = settings.NOW
    return held or timezone.now()


def send_due(*, stopped: Callable[[], bool] = lambda: False) -> Counter[str]:
    """Send what is due until nothing is left; returns how many notices met which fate.

    ``stopped`` is asked between two messages. The log names notices by number, never a person.
    """
    fates: Counter[str] = Counter()
    at = present()
    fates["released"] = notices_release()
    fates["reminders"] = reminders_raise(at=at)
    fates["overtaken"] = notices_settle(at=at)
    while not stopped():
        taken = notices_take(count=BATCH)
        if not taken:
            break
        if not send_batch(taken, fates, stopped):
            break
    return +fates


def send_until(stop: Event, *, every: float = 10.0) -> None:
    """Send what is due every so many seconds until told to stop; for a thread beside other work.

    Whatever goes wrong in one look is logged, and the next one tries again.
    """
    while not stop.is_set():
        try:
            send_due(stopped=stop.is_set)
        except Exception:
            log.exception("the sender was interrupted; it looks again in %s s", every)
        finally:
            connections.close_all()
        stop.wait(every)


def send_batch(taken: list[Taken], fates: Counter[str], stopped: Callable[[], bool]) -> bool:
    """Hand over one batch by one connection; False where the rest has to wait."""
    connection = get_connection()
    left = list(taken)
    try:
        while left and not stopped():
            try:
                connection.open()
            except (OSError, smtplib.SMTPException) as error:
                log.warning("no mail server: %s", type(error).__name__)
                break
            one = left.pop(0)
            fates[send_one(connection, one)] += 1
    finally:
        close(connection)
    for one in left:
        notice_put_back(taken=one, fault="" if stopped() else NO_SERVER, pause=PAUSE)
        fates["waiting"] += 1
    return not left


def send_one(connection: Any, taken: Taken) -> str:
    """Hand over one notice; its fate in a word."""
    try:
        ready = notice_open(taken=taken, at=present())
    except BadValue as error:  # such as a zone that does not exist
        handed = Handed(Fate.REFUSED, f"{error.value} {error.problem}"[:200])
    else:
        if ready is None:
            return "without"
        message = message_of(ready.letter, to=ready.to, key=ready.key, reply_to=ready.reply_to)
        handed = hand_over(connection, message)
    notice_close(taken=taken, handed=handed, at=present())
    log.info("notice %d, try %d: %s %s", taken.pk, taken.attempt, handed.fate.value, handed.fault)
    if handed.fault:
        close(connection)
    return handed.fate.value


def close(connection: Any) -> None:
    """Close a connection, whatever state it is in."""
    try:
        connection.close()
    except (OSError, smtplib.SMTPException):
        log.info("the mail server had closed the connection")
