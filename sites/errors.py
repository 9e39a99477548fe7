"""What the record refuses: each error has a code, the value at fault and what to do about it."""

from __future__ import annotations


class RecordError(Exception):
    """Base of all errors that the record raises on purpose; nothing was written.

    ``value`` names what is at fault, ``problem`` says what is wrong, ``remedy`` what to do.
    """

    code = "error"

    def __init__(self, value: str, problem: str, remedy: str) -> None:
        self.value, self.problem, self.remedy = value, problem, remedy
        super().__init__(f"{value}: {problem}; {remedy}")

    def __reduce__(self) -> tuple[type[RecordError], tuple[str, str, str]]:
        """Copy by parts: an error that crosses processes would else be rebuilt from its text."""
        return type(self), (self.value, self.problem, self.remedy)


class BadValue(RecordError):
    """A value that cannot be written."""

    code = "bad_value"


class DoesNotFit(RecordError):
    """A booking that a rule of its site, station, technician or request forbids."""

    code = "does_not_fit"


class SlotTaken(RecordError):
    """Somebody or something has that time already."""

    code = "slot_taken"


class AlreadyBooked(RecordError):
    """The request has an appointment that is not over."""

    code = "already_booked"


class StepRefused(RecordError):
    """The step table has no such step from here, or not for this person."""

    code = "step_refused"


class ChangedMeanwhile(RecordError):
    """The row is no longer what the caller saw."""

    code = "changed_meanwhile"


class NotReady(RecordError):
    """A planning run has no plan to decide on: not yet, or not any more."""

    code = "not_ready"


class Busy(RecordError):
    """The database could not be written in time, or a deadlock came back again and again."""

    code = "busy"


class KeyReused(RecordError):
    """An idempotency key came back with something else to do."""

    code = "key_reused"


class CallUnderway(RecordError):
    """A call under the same idempotency key has not been answered yet."""

    code = "call_underway"
