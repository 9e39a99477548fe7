"""Background runs: asked for by somebody, planned by a worker, decided on by somebody.

``ask(*, first_day, days, sites=None, requests=None, seconds=None, effort=None, seed=0, by=None)``
    A run that waits for a worker, handed to the queue as soon as the transaction is committed.
    ``sites`` are site codes, ``requests`` references (None: all). Raises BadValue.

``execute(run, *, worker="", ending=None)``
    Work on a waiting run until it ends: what a worker does. Nothing where it waits no more.

``result(run) -> Result``
    The network and the best plan of a run so far. Raises NotReady.

``land(run, *, items=None, by=None, at=None) -> PlanRun``
    Write the plan of a run that is ready for review into the record: once, whoever else tries.

``sweep() -> Swept``
    Take runs back from workers that are gone, and hand to the queue what waits.

A run is cancelled and put aside by the services of `sites.services.runs`.
"""

from planner.gateway.runs.ask import ask
from planner.gateway.runs.execute import execute
from planner.gateway.runs.land import land
from planner.gateway.runs.result import Result, result
from planner.gateway.runs.sweep import Swept, sweep

__all__ = ["Result", "Swept", "ask", "execute", "land", "result", "sweep"]
