"""What happened hangs together: steps, sessions, attempts, overrides, submissions."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import Exists, F, OuterRef, Q, Subquery

from sites.check.finding import Finding
from sites.models import (
    Appointment,
    AppointmentEvent,
    Attempt,
    Override,
    Request,
    Response,
    ResponseKind,
    Session,
    Step,
    Submission,
)
from sites.models.codes import ImpressionType


def steps_follow_events() -> Iterator[Finding]:
    """An appointment stands where the last thing that happened to it left it."""
    last = AppointmentEvent.objects.filter(appointment=OuterRef("pk")).order_by("-id")
    rows = Appointment.objects.annotate(last=Subquery(last.values("step")[:1]))
    for code, step, kept in rows.exclude(last=F("step")).values_list("code", "step", "last"):
        yield Finding(
            f"appointment {code}", f"is '{step}' but its last event says '{kept}'", "look at both"
        )
    silent = rows.filter(last__isnull=True).values_list("code", flat=True)
    for code in silent:
        yield Finding(f"appointment {code}", "has no event", "it was written past the services")


def sessions_follow_steps() -> Iterator[Finding]:
    """There is a session where, and only where, the appointment is under way or held."""
    seen = Exists(Session.objects.filter(appointment=OuterRef("pk")))
    began = Q(step__in=(Step.UNDERWAY, Step.HELD))
    for code in Appointment.objects.filter(began, ~seen).values_list("code", flat=True):
        yield Finding(f"appointment {code}", "has begun without a session", "record the session")
    for code in Appointment.objects.filter(~began & seen).values_list("code", flat=True):
        yield Finding(f"appointment {code}", "has a session but never began", "correct its step")
    open_ = Q(appointment__step=Step.HELD, ended_at__isnull=True)
    late = Q(appointment__step=Step.UNDERWAY, ended_at__isnull=False)
    for key in Session.objects.filter(open_ | late).values_list("pk", flat=True):
        yield Finding(
            f"session {key}", "and its appointment disagree on whether it is over", "look"
        )


def attempts_keep_the_terms() -> Iterator[Finding]:
    """No more attempts than the terms allow, numbered from 1, rolled ones on a scanner for them."""
    terms = "session__appointment__request__terms__attempts_per_capture"
    for key, number in Attempt.objects.filter(number__gt=F(terms)).values_list("pk", "number"):
        yield Finding(f"attempt {key}", f"is number {number}, more than allowed", "look at its day")
    before = Attempt.objects.filter(
        session=OuterRef("session"),
        position=OuterRef("position"),
        impression=OuterRef("impression"),
        number=OuterRef("number") - 1,
    )
    for key in Attempt.objects.filter(~Exists(before), number__gt=1).values_list("pk", flat=True):
        yield Finding(f"attempt {key}", "follows on none", "an attempt was deleted")
    flats = Q(session__scanner__takes_rolled=False, impression=ImpressionType.LIVE_ROLLED)
    for key in Attempt.objects.filter(flats).values_list("pk", flat=True):
        yield Finding(f"attempt {key}", "is rolled on a scanner for flats only", "look at both")


def overrides_keep_the_terms() -> Iterator[Finding]:
    """Overrides are allowed by the terms and confirmed by a second person where they ask for it."""
    terms = "session__appointment__request__terms__"
    wrong = Q(**{f"{terms}override_allowed": False}) | Q(
        **{f"{terms}override_second_person": True, "second__isnull": True}
    )
    for key in Override.objects.filter(wrong).values_list("pk", flat=True):
        yield Finding(f"override {key}", "is not what its programme allows", "look at its session")


def submissions_hang_together() -> Iterator[Finding]:
    """A submission's session is its request's, and the number it carries came back before."""
    for number in Submission.objects.exclude(
        request=F("session__appointment__request")
    ).values_list("control_number", flat=True):
        yield Finding(f"submission {number}", "is of another request's session", "look at both")
    returned = Response.objects.filter(
        submission__control_number=OuterRef("returned_control_number"),
        submission__request__subject=OuterRef("request__subject"),
    ).exclude(kind=ResponseKind.ACCEPTED)
    carrying = Submission.objects.exclude(returned_control_number="")
    for number in carrying.filter(~Exists(returned)).values_list("control_number", flat=True):
        yield Finding(
            f"submission {number}", "carries a number that never came back to this subject", "look"
        )
    early = Response.objects.filter(received_at__lt=F("submission__sent_at"))
    for number in early.values_list("submission__control_number", flat=True):
        yield Finding(f"submission {number}", "was answered before it was sent", "correct a date")


def reworks_are_of_the_same_subject() -> Iterator[Finding]:
    """A rework is of the subject whose set came back."""
    rows = Request.objects.filter(rework_of__isnull=False)
    for name in rows.exclude(subject=F("rework_of__subject")).values_list("reference", flat=True):
        yield Finding(f"request {name}", "is the rework of another subject's request", "look")


CHECKS = (
    steps_follow_events,
    sessions_follow_steps,
    attempts_keep_the_terms,
    overrides_keep_the_terms,
    submissions_hang_together,
    reworks_are_of_the_same_subject,
)
