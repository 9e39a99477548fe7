"""Working days: Monday to Friday. Public holidays differ by site and are counted as working."""

from __future__ import annotations

from datetime import date
from typing import cast

import numpy as np


def working_days(since: date, until: date) -> int:
    """Working days from ``since`` until before ``until``; 0 where they are the other way round."""
    return max(0, int(np.busday_count(since, until)))


def days_ago(today: date, count: int) -> date:
    """The latest day that is ``count`` working days old, or older, on ``today``."""
    found = np.busday_offset(np.datetime64(today), -count, roll="forward")
    return cast(date, found.astype(object))
