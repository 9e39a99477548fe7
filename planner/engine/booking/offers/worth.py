"""What a place costs, what its minutes are worth to others, and both in words."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from planner.engine.booking.offers.book import Book, Group
from planner.engine.booking.offers.result import Charges
from planner.engine.network import Appointment, Request, SiteChoice
from planner.engine.plan import Price
from planner.engine.units import DAY, NOON, told

LEVELS = {
    "quiet": "in the cheapest third of the plan's times, or worth nothing to others",
    "usual": "in the middle third",
    "scarce": "in the dearest third",
}
"""What the words for a price mean: by the price of a minute of station and technician together."""

PARTS = ("am", "pm")


@dataclass(slots=True)
class Worth:
    """Costs and prices of places under a plan."""

    book: Book
    movable: dict[str, Appointment] = field(init=False)
    thirds: tuple[float, float] = field(init=False)
    middle: float = field(init=False)
    _prices: dict[tuple[str, int, str], Price] = field(init=False)
    _words: dict[str, frozenset[str]] = field(init=False)
    _minutes: dict[tuple[str, int, str, frozenset[str], frozenset[str]], float] = field(
        default_factory=dict
    )

    def __post_init__(self) -> None:
        network, plan = self.book.network, self.book.plan
        self.movable = {item.request: item for item in network.appointments if not item.fixed}
        self._prices = {(item.site, item.day, item.part): item for item in plan.prices}
        profiles = {profile.id: frozenset(profile.skills) for profile in network.profiles}
        needs: set[frozenset[str]] = set()
        for request in network.requests:
            needs.add(frozenset(request.features))
            for name in {choice.profile or request.profile for choice in request.sites}:
                needs.add(frozenset(request.skills) | profiles[name])
        # Some words asked together are priced as one name; which, only the requests can say.
        self._words = {"+".join(sorted(words)): words for words in needs}
        nobody: frozenset[str] = frozenset()
        found = [
            self._minute(site, day, part, nobody, nobody)
            for site, day, part in self._prices
            if part in PARTS
        ]
        low, middle, high = np.quantile(found, [1 / 3, 1 / 2, 2 / 3]) if found else (0.0, 0.0, 0.0)
        self.thirds, self.middle = (float(low), float(high)), float(middle)

    def charges(self, request: Request, choice: SiteChoice, day: int, *, moves: bool) -> Charges:
        """What the objective charges for a request at a site on a day."""
        cost = self.book.network.policy.cost
        return Charges(
            late=request.weight * cost.late_day * max(0, day - request.due),
            wait=request.weight * cost.wait_day * max(0, day - request.release),
            travel=cost.travel_minute * choice.travel,
            move=cost.move if moves else 0.0,
        )

    def unbooked(self, request: Request) -> float:
        """What leaving a request out costs, a dropped appointment included."""
        cost = self.book.network.policy.cost
        each = cost.unbooked if request.unbooked is None else request.unbooked
        return request.weight * each + (cost.move if request.id in self.movable else 0.0)

    def stays(self, request: str, station: int, technician: int, start: int) -> bool:
        """Whether this is where a movable appointment of the request stands already."""
        item, network = self.movable.get(request), self.book.network
        return item is not None and (item.station, item.technician, told(item.start, network.grain)
            ) == (network.stations[station].id, network.technicians[technician].id,
                  told(start, network.grain))  # fmt: skip

    def minute_price(
        self, group: Group, start: int, features: frozenset[str], skills: frozenset[str]
    ) -> float:
        """What a minute of a station and a technician with these is worth to others."""
        site = self.book.network.sites[group[0]].id
        part = PARTS[start - group[1] * DAY >= NOON]
        key = (site, group[1], part, features, skills)
        found = self._minutes.get(key)
        if found is None:
            found = self._minutes[key] = self._minute(*key)
        return found

    def _minute(
        self, site: str, day: int, part: str, features: frozenset[str], skills: frozenset[str]
    ) -> float:
        total = 0.0
        for which in (part, "day"):
            price = self._prices.get((site, day, which))
            if price is None:
                continue
            total += price.station_minute + price.technician_minute
            for further, asked in ((price.featured, features), (price.skilled, skills)):
                total += sum(
                    value
                    for name, value in further
                    if self._words.get(name, frozenset({name})) <= asked
                )
        return total

    def level(self, minute_price: float) -> str:
        """One of `LEVELS`."""
        low, high = self.thirds
        if minute_price <= 0 or minute_price < low:
            return "quiet"
        return "scarce" if minute_price > high else "usual"

    def why(
        self, charges: Charges, days: tuple[int, int], travel: int, priced: tuple[float, str]
    ) -> str:
        """What makes a place cheap or dear: ``days`` after due and since release, then prices."""
        late, wait = days
        minute_price, level = priced
        parts = [f"{_days(late)} late ({charges.late:+.2f})" if late else "on time"]
        if wait:
            parts.append(f"{_days(wait)} after release ({charges.wait:+.2f})")
        if travel:
            parts.append(f"{travel} min of travel ({charges.travel:+.2f})")
        if charges.move:
            parts.append(f"moves a booked appointment ({charges.move:+.2f})")
        if minute_price <= 0:
            parts.append(f"{level}: its minutes are worth nothing to others")
        else:
            parts.append(
                f"{level}: a minute is worth {minute_price:.3f} to others,"
                f" {self.middle:.3f} at the plan's middle"
            )
        return "; ".join(parts)


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"
