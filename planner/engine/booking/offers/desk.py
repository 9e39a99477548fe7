"""The desk where one caller is answered: loaded once, asked often."""

from __future__ import annotations

from itertools import islice

import numpy as np

from planner.engine.booking.offers.belongs import check_belongs
from planner.engine.booking.offers.book import Book, Change
from planner.engine.booking.offers.columns import Bookings
from planner.engine.booking.offers.displace import displacements
from planner.engine.booking.offers.holes import Holes
from planner.engine.booking.offers.islands import Islands
from planner.engine.booking.offers.result import Held, Offers
from planner.engine.booking.offers.room import Room
from planner.engine.booking.offers.search import Search, Spread
from planner.engine.booking.offers.standby import chances
from planner.engine.booking.offers.worth import Worth
from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Network, Request
from planner.engine.plan import Plan

DRAWS = 4096
SEED = 11
HAIR = 1e-9
"""Costs that differ by less are the same sum in another order."""


class OfferDesk:
    """A network and its plan, made ready for questions.

    Parameters
    ----------
    network, plan
        The plan must keep rules 1 to 7 of this network.
    draws, seed
        Drawn runs of a day by which promises are judged, and which.

    Raises
    ------
    FileRefused
        Where the plan was not made for this network.

    """

    def __init__(
        self, network: Network, plan: Plan, *, draws: int = DRAWS, seed: int = SEED
    ) -> None:
        check_belongs(network, plan)
        self.network, self.plan = network, plan
        book = Book(network, plan)
        self.search = Search(
            book, Holes(book), Islands(book, draws, seed), Room(book), Worth(book),
            Bookings(book),
        )  # fmt: skip
        self._fixed = {item.request for item in network.appointments if item.fixed}

    def request(self, name: str) -> Request:
        """The network's request of this id. Raises FileRefused where there is none."""
        place = self.search.book.index.request.get(name)
        if place is None:
            remedy = "name one of the network's `requests`, or a file that holds one"
            raise FileRefused(
                [Fault("--request", f"{name!r} is no request of the network", remedy)]
            )
        return self.network.requests[place]

    def warm(self) -> None:
        """Run the days ahead, as far as memory allows: for a desk that will be asked often."""
        self.search.islands.run_ahead()
        for site in range(len(self.network.sites)):
            self.search.standing_at(site, ~self.search.bookings.at(site).fixed)

    def offers(
        self,
        request: Request,
        top: int = 10,
        *,
        by_hand: bool = False,
        spread: tuple[int, int] | None = None,
    ) -> Offers:
        """The best free times for a request, and what else could be done where they are few.

        A request of the network's own that is booked keeps its place until it takes another: its
        booking counts as free, and so its present time is among the offers. Nobody else moves, and
        nothing here changes the plan.

        Parameters
        ----------
        request
            Sound for the network, as `decode_requests` gives it.
        top
            At most so many, at least 1.
        by_hand
            A person asks, who may move what no run may: its fixed appointment moves too.
        spread
            ``(most, apart)``: at most so many in a part of a site-day, told so many minutes apart.

        Returns
        -------
        Offers
            Best first by cost, then price, then told time. No free time of another told time or
            site comes before the last of them in that order, and none at all exists where they are
            fewer than ``top``; under ``spread`` but for those that lie too close to better ones.

        Raises
        ------
        FileRefused
            Where the request has a fixed appointment, unless ``by_hand``.

        """
        if request.id in self._fixed and not by_hand:
            remedy = "it stays where it is; set `fixed` to false in the network to let it move"
            raise FileRefused([Fault("--request", f"{request.id} has a fixed appointment", remedy)])
        search, change = self.search, Change(frozenset({request.id}))
        thin = None if spread is None else Spread(*spread)
        found = list(islice(search.free(request, change, spread=thin), top))
        offers = tuple(search.offer(request, item) for item in found)
        unbooked = search.worth.unbooked(request)
        if len(offers) == top and not all(item.delay_days for item in offers):
            return Offers(request.id, unbooked, offers)
        least = min((item.cost for item in offers), default=np.inf)
        return Offers(
            request.id,
            unbooked,
            offers,
            displacements(search, request, min(float(least), unbooked) - HAIR),
            self._held(request, change),
            chances(search, request),
        )

    def _held(self, request: Request, change: Change) -> Held | None:
        search = self.search
        for found in search.free(request, change, held=True):
            short = search.held(request, found.place, change)
            return Held(search.offer(request, found), short)
        return None
