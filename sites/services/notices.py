"""Notices: raised, taken by a sender, handed over, told by a person; each write knows its try.

A message is handed to the mail server at most once by itself. What a sender took and had not begun
to hand over goes back when its lease ends; what it had begun to hand over may have left, so that it
is listed for a person (``unsure``), who can send it again under the same Message-ID.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import connection
from django.db.models import (
    DateTimeField,
    Exists,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
)
from django.db.models.functions import Greatest
from django.utils import timezone

from sites.access import require_here
from sites.errors import ChangedMeanwhile, StepRefused
from sites.models import (
    REACHED,
    TO_DO,
    Notice,
    NoticeKind,
    NoticeState,
    Response,
    ResponseKind,
    Step,
    User,
)
from sites.notices.letter import Letter, compose_for
from sites.notices.post import Fate, Handed, is_address, message_id, sender
from sites.notices.texts import words_for
from sites.services.write import written

LEASE = timedelta(minutes=3)
"""How long a sender has a notice; longer than a mail server may take for one message."""
TRIES = 6
"""Refusals "for now" after which a notice is listed for a person."""
OPEN = (NoticeState.WAITING, *TO_DO)
ANEW: dict[str, Any] = {"tries": 0, "not_before": None, "handing_at": None, "fault": ""}
AT_ONCE = 2000
ABOUT = (NoticeKind.BOOKED, NoticeKind.MOVED, NoticeKind.REMINDER, NoticeKind.CANCELLED)
PASSED = "the time that it speaks of has passed"
LATER_NEWS = "a later notice says what counts"


@dataclass(frozen=True, slots=True)
class Taken:
    """A notice that a sender has, and the number of its try."""

    pk: int
    attempt: int


@dataclass(frozen=True, slots=True)
class Ready:
    """A message to hand over now."""

    letter: Letter
    to: str
    key: str
    reply_to: str


@written
def notices_settle(*, at: datetime) -> int:
    """Put aside what nobody needs to be told any more; returns how many that were.

    That is a notice of a time that has passed, and one whose appointment had later news before it
    was sent. ``at`` is the present of the record.
    """
    open_ones = Notice.objects.filter(state__in=OPEN, kind__in=ABOUT)
    later = Notice.objects.filter(
        appointment=OuterRef("appointment"), pk__gt=OuterRef("pk"), kind__in=ABOUT
    )
    passed = open_ones.filter(appointment__starts_at__lte=at)
    count = put_aside(passed, PASSED)
    news = open_ones.filter(Exists(later.exclude(kind=NoticeKind.REMINDER)))
    count += put_aside(news, LATER_NEWS)
    gone = open_ones.filter(kind=NoticeKind.REMINDER).exclude(
        appointment__step=Step.BOOKED, appointment__day=F("for_day")
    )
    return count + put_aside(gone, LATER_NEWS)


def put_aside(rows: QuerySet[Notice], why: str) -> int:
    """Mark notices as overtaken; rows that changed meanwhile are left."""
    keys = list(rows.values_list("pk", flat=True))
    found = Notice.objects.filter(pk__in=keys, state__in=OPEN)
    return found.update(state=NoticeState.OVERTAKEN, fault=why)


@written
def notices_release() -> int:
    """Take back what senders had when they died; returns how many notices that were."""
    lapsed = Notice.objects.filter(state=NoticeState.SENDING, lease_until__lt=timezone.now())
    count = lapsed.filter(handing_at__isnull=True).update(
        state=NoticeState.WAITING, lease_until=None
    )
    return count + lapsed.filter(handing_at__isnull=False).update(
        state=NoticeState.UNSURE,
        lease_until=None,
        fault="the sender stopped while it was being sent: it may have arrived",
    )


@written
def notices_take(*, count: int) -> list[Taken]:
    """Take up to ``count`` notices that can be sent now, one a request, the oldest first.

    A request whose earlier notice is being sent waits, so that nobody reads old news last.
    """
    now = timezone.now()
    same = Notice.objects.filter(request=OuterRef("request"))
    busy = same.filter(state=NoticeState.SENDING)
    first = same.filter(state=NoticeState.WAITING).order_by("pk").values("pk")[:1]
    due = Notice.objects.filter(
        Q(not_before__isnull=True) | Q(not_before__lte=now),
        ~Exists(busy),
        state=NoticeState.WAITING,
        pk=Subquery(first),
    ).order_by("pk")
    if connection.vendor == "postgresql":
        due = due.select_for_update(skip_locked=True, no_key=True)
    keys = list(due.values_list("pk", flat=True)[:count])
    Notice.objects.filter(pk__in=keys).update(
        state=NoticeState.SENDING,
        attempt=F("attempt") + 1,
        lease_until=now + LEASE,
        handing_at=None,
        fault="",
    )
    return [Taken(*row) for row in Notice.objects.filter(pk__in=keys).values_list("pk", "attempt")]


def of(taken: Taken, *states: NoticeState) -> QuerySet[Notice]:
    """The notice, if this try still has it."""
    return Notice.objects.filter(pk=taken.pk, attempt=taken.attempt, state__in=states)


@written
def notice_open(*, taken: Taken, at: datetime) -> Ready | None:
    """Write the letter as things stand, and keep that it is about to leave; None: nothing to send.

    From here on the message may have left. ``at`` is the present of the record.
    """
    rows = of(taken, NoticeState.SENDING)
    notice = rows.select_related(
        "request__subject", "request__terms__programme", "appointment__station__site"
    ).first()
    if notice is None:
        return None
    why = needless(notice, at)
    if why:
        rows.update(state=NoticeState.OVERTAKEN, fault=why, lease_until=None)
        return None
    to = notice.request.subject.email
    if not to:
        rows.update(state=NoticeState.PHONE, lease_until=None)
        return None
    if not is_address(to):
        fault = "the address of the subject cannot be written to: correct it"
        rows.update(state=NoticeState.FAILED, fault=fault, lease_until=None)
        return None
    ready = ready_of(notice, at)
    now = timezone.now()
    rows.update(handing_at=now, lease_until=now + LEASE)
    return ready


def needless(notice: Notice, at: datetime) -> str:
    """Why a notice need not be sent any more; "" where it does."""
    appointment = notice.appointment
    if notice.kind not in ABOUT:
        return ""
    if appointment is None:
        return "its appointment is not known"
    if appointment.starts_at <= at:
        return PASSED
    stands = appointment.step == Step.BOOKED
    return "" if stands == (notice.kind != NoticeKind.CANCELLED) else LATER_NEWS


def ready_of(notice: Notice, at: datetime) -> Ready:
    """The letter with its address."""
    kind, programme = NoticeKind(notice.kind), notice.request.terms.programme
    language = notice.request.subject.language
    text = words_for(programme=programme, kind=kind, language=language)
    organizer = programme.reply_to or sender()
    letter = compose_for(kind, text, notice.request, notice.appointment, organizer=organizer, at=at)
    version = notice.appointment.version if notice.appointment else 0
    to = notice.request.subject.email
    return Ready(letter, to, message_id(notice.pk, version), programme.reply_to)


@written
def notice_close(*, taken: Taken, handed: Handed, at: datetime) -> bool:
    """Keep what became of a message; whether this try still had the notice.

    That a message was taken is kept even where the lease ended meanwhile.
    """
    if handed.fate is Fate.SENT:
        rows = of(taken, NoticeState.SENDING, NoticeState.UNSURE, NoticeState.WAITING)
        count = rows.update(
            state=NoticeState.SENT,
            told_at=Greatest("raised_at", timestamp(at)),
            lease_until=None,
            fault="",
        )
        if count:
            contacted(taken.pk, at)
        return bool(count)
    rows = of(taken, NoticeState.SENDING)
    if handed.fate is Fate.LATER:
        notice = rows.first()
        if notice is not None and notice.tries + 1 < TRIES:
            pause = timedelta(minutes=2 ** (notice.tries + 1))
            return bool(waits(rows, handed.fault, pause, tries=notice.tries + 1))
    state = NoticeState.UNSURE if handed.fate is Fate.UNSURE else NoticeState.FAILED
    return bool(rows.update(state=state, fault=handed.fault, lease_until=None))


@written
def notice_put_back(*, taken: Taken, fault: str, pause: timedelta) -> bool:
    """Give a notice back that was not begun, such as when no mail server answers."""
    return bool(waits(of(taken, NoticeState.SENDING), fault, pause))


def waits(rows: QuerySet[Notice], fault: str, pause: timedelta, **values: int) -> int:
    """Let a notice wait for its next try."""
    return rows.update(
        state=NoticeState.WAITING,
        fault=fault,
        lease_until=None,
        handing_at=None,
        not_before=timezone.now() + pause,
        **values,
    )


def timestamp(at: datetime) -> Value:
    """An instant that both databases compare with a column."""
    return Value(at, output_field=DateTimeField())


def contacted(notice: int, at: datetime) -> None:
    """Where the notice was of a return that was read, its subject has been contacted."""
    request = Notice.objects.filter(pk=notice, kind=NoticeKind.RETURNED).values("request")
    Response.objects.filter(
        submission__request__in=request,
        kind=ResponseKind.IMAGE,
        read_at__isnull=False,
        contacted_at__isnull=True,
    ).update(contacted_at=Greatest("read_at", timestamp(at)))


@written
def notice_told(*, notice: Notice, by: User, at: datetime | None = None) -> Notice:
    """Keep that a person told the subject, by phone or face to face."""
    require_here(by, notice)
    at = max(at or timezone.now(), notice.raised_at)
    rows = Notice.objects.filter(pk=notice.pk, attempt=notice.attempt, state__in=OPEN)
    if rows.update(state=NoticeState.TOLD, told_at=at, told_by=by, fault="") != 1:
        raise changed(notice)
    contacted(notice.pk, at)
    notice.refresh_from_db()
    return notice


@written
def notice_again(*, notice: Notice) -> Notice:
    """Let a notice that was not sent, or perhaps was, be sent (again) under its Message-ID."""
    if notice.state in REACHED:
        raise StepRefused(f"notice {notice.pk}", "was told already", "nothing is left to do")
    rows = Notice.objects.filter(pk=notice.pk, state=notice.state, state__in=TO_DO)
    if rows.update(state=NoticeState.WAITING, **ANEW) != 1:
        raise changed(notice)
    notice.refresh_from_db()
    return notice


@written
def notices_again(*, notices: QuerySet[Notice]) -> int:
    """Let those of ``notices`` that failed be sent again, some thousand at once; how many wait."""
    failed = notices.filter(state=NoticeState.FAILED).order_by("pk")
    keys = list(failed.values_list("pk", flat=True)[:AT_ONCE])
    rows = Notice.objects.filter(pk__in=keys, state=NoticeState.FAILED)
    return rows.update(state=NoticeState.WAITING, **ANEW)


def changed(notice: Notice) -> ChangedMeanwhile:
    """Somebody else, or the sender, was faster."""
    return ChangedMeanwhile(
        f"notice {notice.pk}", "was sent or told by somebody else", "read it again"
    )
