"""Doing it once the record is back, where it is away."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import TypeVar

from django.db import InterfaceError, OperationalError, connection

from sites.errors import Busy

log = logging.getLogger(__name__)
R = TypeVar("R")

AWAY = (OperationalError, InterfaceError, Busy)
"""What a database raises that is restarting, or busy beyond patience."""
PATIENCE = 15 * 60.0
"""Seconds for which a worker tries to write what it has, while the record is away."""
PAUSE = 0.5


def patiently(work: Callable[[], R]) -> R:
    """Do it; where the record is away, again until it is back. Not inside a transaction."""
    until = time.monotonic() + PATIENCE
    while True:
        try:
            return work()
        except AWAY as error:
            if connection.in_atomic_block or time.monotonic() > until:
                raise
            log.warning("the record is away (%s); trying again", error)
            connection.close()
            time.sleep(PAUSE)
