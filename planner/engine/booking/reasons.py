"""Why a request is not booked, and the nearest thing that would change it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.draft import Draft
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Job
from planner.engine.network import Request
from planner.engine.plan import Reason, Unbooked
from planner.engine.units import day_text

NO_SITE = "no-site"
AFTER_HORIZON = "released-after-horizon"
NOBODY_ABLE = "nobody-able"
NEVER_OPEN = "never-open"
NOT_WORTH_IT = "costs-more-than-waiting"
HELD = "held-by-reserve"
FULL = "full"

MEANING = {
    NO_SITE: "the request names no site",
    AFTER_HORIZON: "released after the last day of the plan",
    NOBODY_ABLE: "no station or technician at its sites has what it asks for",
    NEVER_OPEN: "never open, staffed and available at once for its whole length",
    NOT_WORTH_IT: "every place costs more than leaving it out",
    HELD: "only minutes reserved for rework are left",
    FULL: "every place is full before it is worth more",
}
"""Every code with its meaning; the plan's reasons use no other."""

Likeness = tuple[int, int, int, int, tuple[tuple[int, int], ...]]
"""Site-day, profile, classes of needs and possible starts: all that packing sees of a request."""


@dataclass(slots=True)
class Explainer:
    """Gives reasons for the requests that a draft leaves out.

    ``reduced`` is the reduced cost of every option under the program's prices.
    """

    draft: Draft
    packer: Packer
    reduced: NDArray[np.float64]
    _takes: dict[Likeness, bool] = field(default_factory=dict)

    def all(self) -> tuple[Unbooked, ...]:
        """Reasons for every request that is not booked, in the network's order."""
        problem = self.draft.problem
        out = [
            r
            for r in range(len(problem.network.requests))
            if self.draft.place[r] < 0 and r not in problem.fixed_of
        ]
        return tuple(Unbooked(problem.network.requests[r].id, (self.reason(r),)) for r in out)

    def reason(self, r: int) -> Reason:
        """The reason for one request."""
        network, options = self.draft.problem.network, self.draft.options
        request = network.requests[r]
        if not request.sites:
            return Reason(NO_SITE, "the request's list of sites is empty", "name a site")
        if request.release >= network.days:
            last = day_text(network.days - 1, network.first_day)
            detail = f"released {self._day(request.release)}, after the last day {last}"
            return Reason(AFTER_HORIZON, detail, "plan a later horizon")
        missing = self._unable(r, request)
        if missing:
            return Reason(NOBODY_ABLE, missing, "name another site, or bring what is missing there")
        if not np.isfinite(options.cheapest[r]):
            return self._never_open(request)
        if options.first[r] == options.first[r + 1]:
            return self._not_worth(r)
        return self._full(r)

    def _unable(self, r: int, request: Request) -> str:
        problem = self.draft.problem
        needs, texts = problem.needs, []
        for choice in request.sites:
            site = problem.index.site[choice.site]
            profile = problem.index.profile[choice.profile or request.profile]
            days = [item for item in problem.sitedays if item.site == site]
            stations = {s for item in days for s in item.stations}
            people = {w.technician for item in days for w in item.workers}
            feature, skill = needs.feature_of[r], needs.skill_of[r, profile]
            if days and not stations:
                texts.append(f"{choice.site} has no station")
            elif days and not any(needs.station_ok[feature, s] for s in stations):
                words = ", ".join(sorted(needs.features[feature])) or "anything"
                texts.append(f"no station at {choice.site} offers {words}")
            elif days and not people:
                texts.append(f"no technician is ever on shift at {choice.site}")
            elif days and not any(needs.technician_ok[skill, p] for p in people):
                words = ", ".join(sorted(needs.skills[skill])) or "anything"
                texts.append(f"no technician on shift at {choice.site} has {words}")
            else:
                return ""
        return "; ".join(texts)

    def _never_open(self, request: Request) -> Reason:
        names = ", ".join(choice.site for choice in request.sites)
        first = self._day(max(0, request.release))
        if request.available:
            detail = f"no time from {first} on at {names} lies inside the subject's available times"
            return Reason(NEVER_OPEN, detail, "ask the subject for further times, or add a site")
        detail = f"from {first} on {names} is never open and staffed for the whole planned length"
        return Reason(NEVER_OPEN, detail, "open the site, roster a technician, or add a site")

    def _not_worth(self, r: int) -> Reason:
        options = self.draft.options
        detail = (
            f"the cheapest place costs {options.cheapest[r]:.2f}, leaving it out"
            f" {options.unbooked[r]:.2f}"
        )
        return Reason(NOT_WORTH_IT, detail, "raise its weight or its cost of being left out")

    def _full(self, r: int) -> Reason:
        draft, options = self.draft, self.draft.options
        low, high = int(options.first[r]), int(options.first[r + 1])
        nearest = low + int(np.argmin(self.reduced[low:high]))
        g = int(options.siteday[nearest])
        where, minutes = self._where(g), int(options.minutes[nearest])
        held = self._held(low, high)
        if held is not None:
            detail = f"{self._where(held)} has room, but only inside its reserve for rework"
            return Reason(HELD, detail, f"free {minutes} min of that day's reserve")
        places = len(np.unique(options.siteday[low:high]))
        over = float(self.reduced[nearest] - options.cost[nearest])
        detail = (
            f"full on every day that costs less than leaving it out ({places} at its sites);"
            f" the nearest is {where}"
        )
        if over > 0:
            detail += f", where {minutes} min are worth {over:.2f} to others"
        remedy = f"add {minutes} min of station and technician at {where}"
        if draft.problem.network.requests[r].available:
            remedy += ", or ask the subject for further times"
        return Reason(FULL, detail, remedy)

    def _held(self, low: int, high: int) -> int | None:
        """A site-day that would take the request but for its reserve."""
        draft = self.draft
        for option in range(low, min(high, low + 20)):
            g = int(draft.options.siteday[option])
            siteday = draft.problem.sitedays[g]
            request = draft.problem.network.requests[int(draft.options.request[option])]
            if not siteday.reserve or request.rework or draft.options.stay[option]:
                continue
            if self._takes_but_for_reserve(g, draft.job(option)):
                return g
        return None

    def _takes_but_for_reserve(self, g: int, job: Job) -> bool:
        """Whether a day packs with one more, its reserve lifted; found once for all who are alike.

        Thousands may be left out of the same days, and few of them differ in what packing sees.
        """
        draft, siteday = self.draft, self.draft.problem.sitedays[g]
        needs = draft.problem.needs
        alike = (
            g,
            job.profile,
            int(needs.feature_of[job.request]),
            needs.skill_of[job.request, job.profile],
            self.packer.asking.windows(job.request, siteday.day, job.minutes),
        )
        takes = self._takes.get(alike)
        if takes is None:
            reserve, siteday.reserve = siteday.reserve, 0
            demand = draft.demand(g)
            wider = Demand((*demand.jobs, job), demand.pinned, demand.care)
            found = self.packer.pack(siteday, wider)
            siteday.reserve = reserve
            takes = found.sound and not found.left and not found.unpinned
            self._takes[alike] = takes
        return takes

    def _where(self, g: int) -> str:
        siteday = self.draft.problem.sitedays[g]
        site = self.draft.problem.network.sites[siteday.site]
        return f"{site.id} on {self._day(siteday.day)}"

    def _day(self, day: int) -> str:
        return day_text(day, self.draft.problem.network.first_day)
