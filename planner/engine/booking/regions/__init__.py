"""Regions: sites that share no request and no technician, planned apart and joined into one plan.

`split` finds them, `join` makes one checked plan of theirs, `plan_regions` does both on as many
processes as asked for. Sites that share anything are never split: a network that hangs together
is one region, and its site-days are what is spread over processes.
"""

from planner.engine.booking.regions.join import join
from planner.engine.booking.regions.run import plan_regions
from planner.engine.booking.regions.shares import share_out
from planner.engine.booking.regions.split import split
from planner.engine.booking.regions.together import Together

__all__ = ["Together", "join", "plan_regions", "share_out", "split"]
