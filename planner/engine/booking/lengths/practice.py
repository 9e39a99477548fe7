"""What sessions take of the room in practice.

Planned minutes say how close two sessions may be told to each other; what a day holds is decided by
the promises. A day filled with people holds a share of its room in session minutes (no-shows as
0), much the same for every kind of session, whatever the table: by that share the room is priced.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.engine.booking.allocate.options import Options
from planner.engine.booking.problem import Problem
from planner.engine.sessions.length import session_length


def in_practice(problem: Problem, options: Options, share: float) -> Options:
    """The options with the minutes of room that each takes where sessions fill ``share`` of it."""
    minutes = options.minutes.astype(np.float64)
    people = options.request < len(problem.network.requests)
    means = [session_length(profile).mean_booked for profile in problem.network.profiles]
    minutes[people] = np.array(means)[options.profile[people]] / share
    return replace(options, minutes=minutes)
