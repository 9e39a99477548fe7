"""What the two levels of a run hand on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.linear import Allocation
from planner.engine.booking.allocate.options import Options as Choices
from planner.engine.booking.care import CarePlaces
from planner.engine.booking.draft import Draft
from planner.engine.booking.moves import Mover
from planner.engine.booking.problem import Problem
from planner.engine.booking.tasks import Crew


@dataclass(frozen=True, slots=True)
class Level1:
    """The allocation's tables and its result; ``reduced`` is the reduced cost of every option.

    ``problem`` has the lengths chosen; ``allocation`` and ``reduced`` go by what sessions take in
    practice.
    """

    problem: Problem
    choices: Choices
    capacity: Capacity
    allocation: Allocation
    reduced: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Level2:
    """The draft, who moves requests in it, the processes, and where care was placed."""

    draft: Draft
    mover: Mover
    crew: Crew
    care: CarePlaces
