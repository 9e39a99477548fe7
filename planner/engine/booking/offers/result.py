"""What comes back for one request: free times, and what else could be done."""

from __future__ import annotations

from dataclasses import dataclass

from planner.engine.plan import Booking


@dataclass(frozen=True, slots=True)
class Charges:
    """What the objective charges for one request in one place, part by part."""

    late: float
    wait: float
    travel: float
    move: float

    @property
    def total(self) -> float:
        """The sum."""
        return self.late + self.wait + self.travel + self.move


@dataclass(frozen=True, slots=True)
class Offer:
    """A free time for a request.

    ``start`` and ``told`` in network minutes; ``minutes`` and ``travel`` in minutes;
    ``delay_days`` are calendar days after the request is due (0: on time), ``wait_days`` those
    since its release. ``p_wait`` is P(wait > the policy's wait minutes). ``price`` is what the
    minutes are worth to others under the plan's prices, ``minute_price`` the same for one minute,
    ``level`` compares it with the plan's other prices (see `worth.LEVELS`). ``current`` marks
    the place that the request has already.
    """

    site: str
    station: str
    technician: str
    start: int
    told: int
    minutes: int
    travel: int
    delay_days: int
    wait_days: int
    p_wait: float
    price: float
    minute_price: float
    level: str
    charges: Charges
    why: str
    current: bool = False

    @property
    def cost(self) -> float:
        """What the objective would charge for the request here."""
        return self.charges.total


@dataclass(frozen=True, slots=True)
class Displacement:
    """A time that is free once ``booking``, of somebody else, moves to ``to``.

    ``cost`` is what the objective would change by: the request's cost in ``offer``, and what the
    other's new place costs more (``extra``) than its present one.
    """

    offer: Offer
    booking: Booking
    to: Offer
    extra: float

    @property
    def cost(self) -> float:
        """The cost of both."""
        return self.offer.cost + self.extra


@dataclass(frozen=True, slots=True)
class Held:
    """A time that only a day's reserve for rework keeps from the request.

    ``short`` is by how many minutes the booking would reach into the reserve.
    """

    offer: Offer
    short: int


@dataclass(frozen=True, slots=True)
class Chance:
    """A site and day (a number since ``first_day``) on which somebody may not come.

    ``places`` bookings there leave, each alone, room for the request; ``chance`` is the estimated
    probability that at least one of them is a no-show, taken as independent.
    """

    site: str
    day: int
    places: int
    chance: float


@dataclass(frozen=True, slots=True)
class Offers:
    """All that can be said to one caller.

    ``offers`` are the best free times, best first: by cost, then price, then told time. The rest
    is empty unless free times are few or all late. ``unbooked`` is what leaving the request out
    costs.
    """

    request: str
    unbooked: float
    offers: tuple[Offer, ...]
    displaces: tuple[Displacement, ...] = ()
    reserve: Held | None = None
    waiting_list: tuple[Chance, ...] = ()
