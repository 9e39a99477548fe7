"""Between the record and the engine: four doors, each all or nothing.

``read(*, first_day, days, sites=None, requests=None) -> Network``
    What the record says of ``days`` days from ``first_day``, ready to plan. ``sites`` are site
    codes (None: all), ``requests`` references (None: all that still need a session). Appointments
    of requests that are not asked for are in it too, as fixed ones: they take their place. The
    number of queries does not depend on how many requests there are. Raises FileRefused, naming
    the record's places, where the record cannot be planned with.

``write(network, plan, *, by=None, at=None, seed=0, run=None) -> Written``
    Keep a plan made for a network that `read` gave: appointments booked, moved or displaced, care
    and breaks placed, in one transaction. Only where the record still is what the network said;
    the rest comes back as ``changed`` and is left as it is. ``by`` is the user who asks (None: a
    planning run); ``run`` is the run that made the plan, which is taken as kept in the same
    transaction, so that no plan is written twice (None: a new row). Raises StepRefused (not for
    this role), NotReady (the run's plan was decided on already), Busy, FileRefused.

``look(network, plan) -> Look``
    What `write` would write now and what it would not; nothing is written.

``store(network, *, name="imported") -> Stored``
    Bring a network into the record, with a programme of its own. Raises FileRefused with every
    fault where its ids are in the record already, or where the record cannot hold a value.
"""

from planner.gateway.record.changed import Changed
from planner.gateway.record.read import read
from planner.gateway.record.store import Stored, store
from planner.gateway.record.write import Look, Written, look, write

__all__ = ["Changed", "Look", "Stored", "Written", "look", "read", "store", "write"]
