"""Every operation: how to call it so that it is done, and what each person is answered.

One subject a file. The row is asked for by `test_who.py`, which fails where an operation has none,
and its call feeds `test_schemathesis.py` with what really exists.
"""

from __future__ import annotations

from tests.api.operations import (
    appointments,
    care,
    desk,
    intake,
    notices,
    offers,
    own,
    places,
    returned,
    runs,
    sessions,
    waiting,
)
from tests.api.operations.row import PLACE, Row

__all__ = ["PLACE", "ROWS", "Row"]

SUBJECTS = (
    own,
    places,
    desk,
    intake,
    appointments,
    care,
    returned,
    notices,
    runs,
    offers,
    waiting,
    sessions,
)
ROWS: dict[str, Row] = {name: row for each in SUBJECTS for name, row in each.ROWS.items()}
