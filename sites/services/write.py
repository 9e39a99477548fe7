"""One write: all or nothing, again after a deadlock, and a clear answer to who lost the race."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from django.db import IntegrityError, OperationalError, transaction

from sites.errors import AlreadyBooked, Busy, ChangedMeanwhile, SlotTaken

P = ParamSpec("P")
R = TypeVar("R")

TRIES = 6
PAUSE_SECONDS = 0.05
AGAIN = {"40001", "40P01", "55P03"}  # serialization failure, deadlock, lock not available


def retryable(error: OperationalError) -> bool:
    """Whether the same write may succeed when it is tried again."""
    state = getattr(error.__cause__, "sqlstate", None)
    return state in AGAIN or "database is locked" in str(error)


def written(service: Callable[P, R]) -> Callable[P, R]:
    """Run a service in one transaction; try again after a deadlock; translate what is refused.

    Inside another transaction it is a savepoint of that one, and nothing is tried again: the
    outermost service decides.
    """

    @wraps(service)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        outer = transaction.get_connection().in_atomic_block
        for left in range(TRIES - 1, -1, -1):
            try:
                with transaction.atomic():
                    return service(*args, **kwargs)
            except OperationalError as error:
                if outer or not retryable(error):
                    raise
                if not left:
                    raise busy() from error
                time.sleep(random.uniform(0, PAUSE_SECONDS) * (TRIES - left))  # noqa: S311 - a pause
            except IntegrityError as error:
                raise refusal(error) from error
        raise busy()

    return run


def busy() -> Busy:
    """What to say when every try met a lock."""
    return Busy("the record", "is being written by others", "try again in a moment")


def refusal(error: IntegrityError) -> Exception:
    """What the database refused, in words; the error itself where it is none of ours."""
    text = str(error)
    if "occupied:" in text or "record_occupancy_overlap" in text:
        return SlotTaken("that time", "is taken", "choose another time, station or technician")
    if "request_one_active_appointment" in text or (
        "UNIQUE constraint failed: record_appointment.request_id" in text
    ):
        return AlreadyBooked(
            "the request", "has an appointment that is not over", "move or cancel that one"
        )
    if "waiting_once" in text or "UNIQUE constraint failed: record_waiting.request_id" in text:
        return ChangedMeanwhile(
            "the request", "was put on the waiting list by somebody else", "look at it again"
        )
    return error
