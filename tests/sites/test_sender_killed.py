"""A sender that is killed: what certainly did not leave is sent by the next, what may have is not.

SMTP cannot give more: a client that loses the line before it reads the reply to the last dot does
not know whether the message was taken (RFC 5321, 4.2.5, seen; RFC 1047, recalled).
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from threading import Event, Thread
from time import sleep
from typing import Any

import pytest
from django.db import close_old_connections

from sites.models import Notice, NoticeState
from sites.outbox import send_until
from sites.services.notices import notice_again
from tests.sites.build import World, world
from tests.sites.mailserver import Mail, mail_server
from tests.sites.test_races import url
from tests.sites.told import BEFORE, booked, states

pytestmark = pytest.mark.django_db(transaction=True)
LONG_AGO = datetime(2026, 1, 1, tzinfo=UTC)


@pytest.fixture
def here() -> World:
    """The small world, committed, with somebody to be told."""
    found = world()
    booked(found)
    return found


def sender(mail: Mail) -> subprocess.Popen[str]:
    """Another process that sends what is due."""
    return subprocess.Popen(
        [sys.executable, "manage.py", "send_notices", "--once"],
        cwd=Path(__file__).parents[2],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=os.environ
        | {
            "DATABASE_URL": url(),
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "PLATEN_EMAIL_URL": mail.url,
            "PLATEN_NOW": BEFORE.isoformat(),
        },
    )


def killed(mail: Mail, stage: str) -> None:
    """Kill a sender while the mail server keeps it waiting at a stage; then its lease ends."""
    mail.hold = stage
    child = sender(mail)
    try:
        assert mail.reached.wait(timeout=240)
    finally:
        child.send_signal(signal.SIGKILL)
        said, _ = child.communicate(timeout=240)
    assert child.returncode == -signal.SIGKILL, said
    assert Notice.objects.get().state == NoticeState.SENDING
    assert Notice.objects.update(lease_until=LONG_AGO) == 1
    mail.hold = ""
    mail.go.set()


def sent(mail: Mail) -> list[str]:
    """Let another sender do what is left; the Message-IDs that the server took."""
    child = sender(mail)
    said, _ = child.communicate(timeout=240)
    assert child.returncode == 0, said
    close_old_connections()
    return [str(message["Message-ID"]) for message in mail.messages()]


def test_killed_before_anything_left_it_is_sent_once_by_the_next(here: World) -> None:
    with mail_server() as mail:
        killed(mail, "greeting")
        assert len(sent(mail)) == 1
        assert len(sent(mail)) == 1
    assert states() == [("booked", "sent")]


def test_killed_after_the_server_took_it_it_does_not_leave_again_by_itself(here: World) -> None:
    with mail_server() as mail:
        killed(mail, "taken")
        assert len(sent(mail)) == 1
        assert states() == [("booked", "unsure")]
        assert "may have arrived" in Notice.objects.get().fault
        # A person sends it again: the receiver can drop it by its Message-ID (RFC 5322, 3.6.4).
        notice_again(notice=Notice.objects.get())
        first, second = sent(mail)
        assert first == second
    assert states() == [("booked", "sent")]


def test_killed_in_between_it_is_listed_though_it_did_not_leave(here: World) -> None:
    with mail_server() as mail:
        killed(mail, "MAIL")
        assert sent(mail) == []
        assert states() == [("booked", "unsure")]


def test_a_sender_beside_other_work_goes_on_after_a_fault_and_stops_when_told(
    here: World, settings: Any, mailoutbox: list[Any]
) -> None:
    settings.NOW = BEFORE
    settings.LOOKUP_KEY, key = "", settings.LOOKUP_KEY  # no Message-ID can be made
    stop = Event()
    thread = Thread(target=send_until, args=(stop,), kwargs={"every": 0.05})
    thread.start()
    try:
        assert waited(lambda: Notice.objects.get().attempt == 1)
        settings.LOOKUP_KEY = key
        Notice.objects.update(lease_until=LONG_AGO)
        assert waited(lambda: Notice.objects.get().state == NoticeState.SENT)
    finally:
        stop.set()
        thread.join(timeout=240)
    assert not thread.is_alive()
    assert len(mailoutbox) == 1


def waited(holds: Callable[[], bool]) -> bool:
    """Whether something comes to hold within a minute."""
    for _ in range(600):
        if holds():
            return True
        sleep(0.1)
    return False


def test_without_a_mail_server_by_name_the_command_says_what_to_set(here: World) -> None:
    with mail_server() as mail:
        env = os.environ | {"DATABASE_URL": url(), "DJANGO_SETTINGS_MODULE": "tests.settings"}
        done = subprocess.run(
            [sys.executable, "manage.py", "send_notices", "--once"],
            cwd=Path(__file__).parents[2],
            capture_output=True,
            text=True,
            env={key: value for key, value in env.items() if key != "PLATEN_EMAIL_URL"},
            check=False,
        )
        assert done.returncode == 2
        assert "PLATEN_EMAIL_URL" in done.stderr
        assert mail.taken == []
    assert states() == [("booked", "waiting")]
