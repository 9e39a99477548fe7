"""Nine months, a day at a time: people come in, are booked, come or not, and sets come back."""

from __future__ import annotations

import heapq
from datetime import UTC, date, datetime, time, timedelta

from planner.engine.rng import stream
from planner.engine.scenario.demo_layout import SITES, SitePlan
from planner.engine.scenario.profiles import FIRST_SESSIONS, FIRST_SHARES, usual_lengths
from planner.gateway.demo import story
from planner.gateway.demo.calendar import SiteDay, calendar
from planner.gateway.demo.captures import Dice
from planner.gateway.demo.days import look_after, shut, staff
from planner.gateway.demo.house import House, furnish
from planner.gateway.demo.intake import Intake, Need
from planner.gateway.demo.lanes import Lane, lanes_of
from planner.gateway.demo.returns import Answer, answer, at_desk
from planner.gateway.demo.tables import Tables
from planner.gateway.demo.visits import Outcome, Visits
from sites.clock import wall
from sites.models import (
    ExceptionRoute,
    Notice,
    NoticeKind,
    NoticeState,
    Request,
    Response,
    ResponseKind,
    Submission,
)

MORNING = time(6, tzinfo=UTC)
"""When the demo's today begins: before any site opens."""
REPEATS = 1.18
"""Sessions planned for each request: no-shows, cancellations and rework come on top of one."""
BOOKED_DAYS, BOOKED_SHARE = 6, 0.45
"""Days of the horizon that the desk has begun to fill, and how far."""
FULL = 6
"""A day is full when so many who can go to any lane have found no place."""
GIVEN_UP = 3
"""No-shows after which a request is closed."""
RETURN_WINDOW_DAYS = 90  # public guidance; the unit is recalled
NAME_CHECK = "name-based check asked for after two image returns"


class Past:
    """The tables as they grow; `live` runs through the days."""

    def __init__(self, today: date, seed: int, password: str) -> None:
        self.today, self.now = today, datetime.combine(today, MORNING)
        self.tables = Tables()
        self.house: House = furnish(self.tables, today, password)
        self.intake = Intake(self.tables, self.house, today, seed)
        self.visits = Visits(self.tables, self.house, today, seed)
        self.dice = Dice(stream(seed, "past"))
        self.rng = stream(seed, "arrivals")
        self.days = calendar(today, story.PAST_DAYS, story.AHEAD_DAYS, seed)
        self.queues: dict[str, list[tuple[date, int, Need]]] = {plan.id: [] for plan in SITES}
        self.lengths = usual_lengths()
        self.control = 0

    def live(self) -> Tables:
        """Run through all days and return the rows."""
        shut(self.tables, self.house, self.today)
        rates = self.rates()
        plans_until = self.today + timedelta(days=story.PLAN_DAYS)
        for day, here in self.days.items():
            past = day < self.today
            if past and day.weekday() < 5:
                self.receive(day, rates)
            if day == self.today:
                self.announce()
            for site_day in here:
                lanes = lanes_of(site_day)
                plans = self.today <= day < plans_until
                staff(self.tables, self.house, site_day, lanes, past=past, plans=plans)
                if past or plans:
                    look_after(self.tables, self.house, site_day, self.today)
                if (day - self.today).days < BOOKED_DAYS:
                    self.fill(site_day, lanes, past=past)
        for queue in self.queues.values():
            for _, _, need in sorted(queue, key=lambda item: item[1]):
                self.intake.choosy(need)
        return self.tables

    def rates(self) -> dict[str, float]:
        """Requests a weekday and site, from what its lanes held before the newcomer came."""
        held = dict.fromkeys(self.queues, 0)
        until = self.today - timedelta(days=story.NEWCOMER.begins)
        for day, here in self.days.items():
            if day < until:
                for site_day in here:
                    free = (span for lane in lanes_of(site_day) for span in lane.free)
                    held[site_day.plan.id] += sum(end - start for start, end in free)
        weekdays = (story.PAST_DAYS - story.NEWCOMER.begins) * 5 / 7
        rates = {}
        for plan in SITES:
            kinds = [self.intake.at(kind, plan).id for kind in FIRST_SESSIONS]
            mean = sum(
                share * self.lengths[kind] for kind, share in zip(kinds, FIRST_SHARES, strict=True)
            )
            rates[plan.id] = story.LOAD * held[plan.id] / weekdays / mean / REPEATS
        return rates

    def receive(self, day: date, rates: dict[str, float]) -> None:
        """A weekday's new requests."""
        before, wave = (self.today - day).days, story.WAVE
        for plan in SITES:
            times = wave.times if plan.id in wave.sites and wave.ends < before <= wave.begins else 1
            for _ in range(int(self.rng.poisson(rates[plan.id] * times))):
                self.wait(self.intake.first(plan, day))

    def announce(self) -> None:
        """Requests of the last days whose subjects come free during the next weeks."""
        pull = [len(plan.features) for plan in SITES]
        for _ in range(story.ANNOUNCED):
            plan = SITES[int(self.rng.choice(len(SITES), p=[n / sum(pull) for n in pull]))]
            day = self.today - timedelta(days=1 + self.dice.below(10))
            release = self.today + timedelta(days=self.dice.below(story.PLAN_DAYS - 3))
            self.wait(self.intake.first(plan, day, release))

    def wait(self, need: Need) -> None:
        """Put a need into its site's queue."""
        queue = self.queues[need.plan.id]
        heapq.heappush(queue, (need.ready, need.request, need))

    def fill(self, here: SiteDay, lanes: list[Lane], *, past: bool) -> None:
        """Book a day's lanes from the queue, and let the bookings of a past day happen."""
        queue, aside = self.queues[here.plan.id], list[tuple[date, int, Need]]()
        placed: list[tuple[int, Lane, Need]] = []
        room = sum(end - start for lane in lanes for start, end in lane.free)
        most = room if past else BOOKED_SHARE * room
        used = full = 0
        while queue and queue[0][0] <= here.day and used < most and full < FULL:
            item = heapq.heappop(queue)
            need = item[2]
            minutes = self.lengths[need.profile.id]
            taken = None if self.late(need, here.day) else self.seat(need, lanes, minutes)
            if taken is None:
                aside.append(item)
                full += not (need.features or need.skills)
                continue
            lane, minute = taken
            placed.append((self.visits.book(need, here, lane, minute, minutes), lane, need))
            used += minutes
        for item in aside:
            heapq.heappush(queue, item)
        if not past:
            return
        busy: dict[str, datetime] = {}
        for key, lane, need in placed:
            self.after(need, here, self.visits.happen(key, need, here, lane, busy))

    def late(self, need: Need, day: date) -> bool:
        """Whether nobody could have booked it by then: it came on that day or this morning."""
        return need.since.date() >= min(day, self.today)

    def seat(self, need: Need, lanes: list[Lane], minutes: int) -> tuple[Lane, int] | None:
        """The lane with the earliest time that suits."""
        fitting = [
            lane
            for lane in lanes
            if need.features <= lane.features and need.skills <= set(lane.turn.seat.skills)
        ]
        for lane in sorted(fitting, key=lambda each: each.free[0][0] if each.free else 1440):
            minute = lane.take(minutes)
            if minute is not None:
                return lane, minute
        return None

    def after(self, need: Need, here: SiteDay, outcome: Outcome) -> None:
        """Send the set on, or wait for the next visit."""
        if outcome.session is not None and outcome.ended is not None:
            sent = outcome.ended + timedelta(hours=0.5 + 5 * self.dice.uniform())
            self.send(need, here.plan, outcome.session, sent, carried=need.returned, fixed=False)
            return
        if self.visits.missed.get(need.subject, 0) >= GIVEN_UP:
            at = datetime.combine(here.day, time(22), UTC) + timedelta(hours=3)
            if at < self.now:
                row = self.tables.row(Request, need.request)
                row |= {"closed_at": at, "closed_why": f"did not come {GIVEN_UP} times"}
            return
        need.ready = here.day + timedelta(days=outcome.wait_days)
        need.since = datetime.combine(here.day, time(13), UTC) + timedelta(days=1)
        self.wait(need)

    def send(
        self, need: Need, plan: SitePlan, session: int, sent: datetime, *, carried: str, fixed: bool
    ) -> None:
        """A submission and its response, as far as they have happened by now."""
        if sent >= self.now:
            return
        self.control += 1
        number = f"C{self.control:07d}"
        submission = self.tables.add(
            Submission,
            request_id=need.request,
            session_id=session,
            control_number=number,
            returned_control_number=carried,
            sent_at=sent,
        )
        came = answer(plan.id, sent, again=need.again, fixed=fixed, dice=self.dice)
        if came.received >= self.now:
            return
        read, contacted = self.done(came.read), self.done(came.contacted)
        self.tables.add(
            Response,
            submission_id=submission,
            kind=came.kind.value,
            received_at=came.received,
            read_at=read,
            read_by_id=self.house.desk if read else None,
            contacted_at=contacted,
        )
        if came.kind is ResponseKind.IMAGE:
            self.tell(need, plan, number, came)
        self.answer_to(need, plan, session, number, came)

    def tell(self, need: Need, plan: SitePlan, number: str, came: Answer) -> None:
        """The notice of an image return that was read, and the exception route of a second one."""
        read, contacted = self.done(came.read), self.done(came.contacted)
        if read:
            state = NoticeState.TOLD if contacted else NoticeState.PHONE
            self.tables.add(
                Notice,
                request_id=need.request,
                kind=NoticeKind.RETURNED.value,
                raised_at=read,
                told_at=contacted,
                told_by_id=self.house.desk if contacted else None,
                state=state.value,
            )
        if need.returns >= 1:
            day, _ = wall(plan.timezone, came.received)
            self.tables.add(
                ExceptionRoute,
                request_id=need.request,
                first_number=need.returned,
                second_number=number,
                opened_at=came.received,
                closes_on=day + timedelta(days=RETURN_WINDOW_DAYS),
                asked_at=contacted,
                asked_by_id=self.house.desk if contacted else None,
            )

    def done(self, at: datetime | None) -> datetime | None:
        """A time that has passed, or None."""
        return at if at is not None and at < self.now else None

    def answer_to(
        self, need: Need, plan: SitePlan, session: int, number: str, came: Answer
    ) -> None:
        """What the desk does about a response, once it has read it."""
        if came.read is None or came.read >= self.now:
            return
        if came.kind is ResponseKind.IMAGE:
            if came.contacted is None or came.contacted >= self.now:
                return
            if need.returns >= 1:
                row = self.tables.row(Request, need.request)
                row |= {"closed_at": came.contacted, "closed_why": NAME_CHECK}
                return
            self.wait(self.intake.rework(need, number, came.contacted))
            return
        days = 1 + self.dice.below(3) if came.kind is ResponseKind.DATA else self.dice.below(2)
        again = max(at_desk(came.read + timedelta(days=days), self.dice), came.read)
        again += timedelta(minutes=15)
        self.send(need, plan, session, again, carried=number, fixed=True)


def make_past(today: date, seed: int, password: str) -> Tables:
    """Every row of the demo's record: the same ones for the same day and seed."""
    return Past(today, seed, password).live()
