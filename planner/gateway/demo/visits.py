"""One appointment and what became of it: cancelled, missed, refused, broken off or held."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from planner.engine.rng import stream
from planner.gateway.demo import story
from planner.gateway.demo.calendar import SiteDay
from planner.gateway.demo.captures import Dice, Taken, take
from planner.gateway.demo.house import House
from planner.gateway.demo.intake import Need
from planner.gateway.demo.lanes import Lane
from planner.gateway.demo.tables import Tables
from sites.clock import visit_span
from sites.models import (
    Algorithm,
    Appointment,
    AppointmentEvent,
    Attempt,
    MissingCode,
    MissingFinger,
    Notice,
    NoticeKind,
    NoticeState,
    Override,
    OverrideKind,
    Session,
    SessionEnd,
    Step,
)

VERSION = "2.3"
"""Of NFIQ 2, as an invented scanner might report it."""
KEPT_REASON = "best of three attempts kept"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What is left to do: ``session`` with a whole set that ended then, or a wait in days."""

    session: int | None = None
    ended: datetime | None = None
    wait_days: int = 0


class Visits:
    """Makes appointments and sessions, and keeps their rows."""

    def __init__(self, tables: Tables, house: House, today: date, seed: int) -> None:
        self.tables, self.house, self.today = tables, house, today
        self.dice = Dice(stream(seed, "visits"))
        self.missed: dict[int, int] = {}
        self.made: dict[int, datetime] = {}

    def book(self, need: Need, here: SiteDay, lane: Lane, minute: int, minutes: int) -> int:
        """A booking, made between the day the request came and the day before the visit."""
        dice = self.dice
        last = min(here.day, self.today) - timedelta(days=1)
        lead = (last - need.since.date()).days
        made = need.since + timedelta(days=dice.below(min(lead, 3) + 1) if lead > 0 else 0)
        made += timedelta(minutes=5 + dice.below(60))
        key = self.tables.add(
            Appointment,
            code=f"a-{len(self.tables.rows[Appointment]) + 1:06d}",
            request_id=need.request,
            subject_id=need.subject,
            station_id=self.house.stations[lane.station],
            technician_id=self.house.technicians[lane.turn.seat.id],
            told_minute=minute // 5 * 5,
            **visit_span(here.plan.timezone, here.day, minute, minutes),
        )
        self.made[key] = made
        self.event(key, "book", Step.BOOKED, made, self.house.desk)
        self.tables.add(
            Notice,
            request_id=need.request,
            appointment_id=key,
            kind=NoticeKind.BOOKED.value,
            raised_at=made,
            told_at=made + timedelta(minutes=10),
            state=NoticeState.TOLD.value,
        )
        return key

    def happen(
        self, key: int, need: Need, here: SiteDay, lane: Lane, busy: dict[str, datetime]
    ) -> Outcome:
        """Draw what became of a booking of the past; ``busy`` holds when each lane is free."""
        dice, row = self.dice, self.tables.row(Appointment, key)
        told = row["starts_at"] - timedelta(minutes=row["minute"] - row["told_minute"])
        taker = self.house.takers[lane.turn.seat.id]
        if dice.uniform() < story.CANCELLED:
            before = max(
                told - timedelta(hours=4 + dice.below(20)), self.made[key] + timedelta(minutes=1)
            )
            self.event(
                key, "cancel", Step.CANCELLED, before, self.house.desk, "asked for another day"
            )
            return Outcome(wait_days=3 + dice.below(6))
        if dice.uniform() < self.no_show(need):
            self.missed[need.subject] = self.missed.get(need.subject, 0) + 1
            self.event(key, "no_show", Step.NO_SHOW, told + timedelta(minutes=20), taker)
            return Outcome(wait_days=4 + dice.below(8))
        early = min(8.0, max(-20.0, float(dice.rng.normal(-5, 4))))
        arrived = told + timedelta(minutes=early)
        self.event(key, "arrive", Step.ARRIVED, arrived, taker)
        begins = max(arrived + timedelta(minutes=1), busy.get(lane.turn.seat.id, arrived))
        self.event(key, "start", Step.UNDERWAY, begins, taker)
        outcome, ended = self.session(key, need, here, lane, begins)
        self.event(key, "finish", Step.HELD, ended, taker)
        busy[lane.turn.seat.id] = ended
        return outcome

    def no_show(self, need: Need) -> float:
        """The profile's chance; its odds rise after an earlier no-show."""
        chance = need.profile.no_show
        if not self.missed.get(need.subject):
            return chance
        odds = chance / (1 - chance) * story.NO_SHOW_AGAIN_ODDS
        return odds / (1 + odds)

    def session(
        self, key: int, need: Need, here: SiteDay, lane: Lane, begins: datetime
    ) -> tuple[Outcome, datetime]:
        """Identity check, captures, wrap-up."""
        dice, house, profile = self.dice, self.house, need.profile
        before = (self.today - here.day).days
        who = lane.turn.seat.id
        slower = story.newcomer_factor(who, before, story.NEWCOMER.slower)
        setup = profile.setup.mean
        if profile.setup.sd:
            shape = (profile.setup.mean / profile.setup.sd) ** 2
            setup = float(dice.rng.gamma(shape, profile.setup.mean / shape))
        checked = begins + timedelta(minutes=0.6 * setup * slower)
        values = {
            "appointment_id": key,
            "scanner_id": house.scanners[lane.station],
            "started_at": begins,
        }
        seen = {"identity_checked_at": checked, "identity_checked_by_id": house.takers[who]}
        mark = dice.uniform()
        if mark < story.REFUSED:
            values |= {"ended_at": checked, "ended_how": SessionEnd.REFUSED.value}
            self.tables.add(Session, **values)
            return Outcome(wait_days=7 + dice.below(14)), checked
        if mark < story.REFUSED + story.UNPRINTABLE:
            values |= {**seen, "ended_at": checked, "ended_how": SessionEnd.BROKEN_OFF.value}
            session = self.tables.add(Session, **values, note="to come again after healing")
            wait = 14 + dice.below(15)
            self.tables.add(
                MissingFinger,
                session_id=session,
                position=1 + dice.below(10),
                code=MissingCode.UNPRINTABLE.value,
                review_on=here.day + timedelta(days=wait),
            )
            return Outcome(wait_days=wait), checked
        without = 1 + dice.below(10) if dice.uniform() < story.AMPUTATED else None
        taken = take(
            profile,
            harder=story.newcomer_factor(who, before, story.NEWCOMER.retakes),
            drift=story.drift_factor(lane.station, before),
            without=without,
            dice=dice,
        )
        minutes = (setup + taken.seconds / 60 + profile.wrapup) * slower
        ended = begins + timedelta(minutes=minutes)
        how = SessionEnd.OVERRIDE if taken.short else SessionEnd.COMPLETE
        values |= {**seen, "ended_at": ended, "ended_how": how.value}
        session = self.tables.add(Session, **values)
        if without is not None:
            code = MissingCode.AMPUTATED.value
            self.tables.add(MissingFinger, session_id=session, position=without, code=code)
        self.captures(session, taken, house.takers[who], house.leads[here.plan.id], ended)
        return Outcome(session=session, ended=ended), ended

    def captures(self, session: int, taken: Taken, by: int, second: int, ended: datetime) -> None:
        """Rows of a session's attempts, and an override for each that stayed short."""
        for position, impression, number, score, cause, seconds, kept in taken.attempts:
            graded = score is not None
            self.tables.add(
                Attempt,
                session_id=session,
                position=position,
                impression=impression,
                number=number,
                algorithm=Algorithm.NFIQ2.value if graded else "",
                algorithm_version=VERSION if graded else "",
                score=score,
                cause=cause,
                seconds=seconds,
                kept=kept,
            )
        for position in taken.short:
            self.tables.add(
                Override,
                session_id=session,
                position=position,
                kind=OverrideKind.QUALITY.value,
                reason=KEPT_REASON,
                at=ended - timedelta(minutes=1),
                by_id=by,
                second_id=second,
            )

    def event(self, key: int, what: str, step: Step, at: datetime, by: int, why: str = "") -> None:
        """Something happened to an appointment, which stands there now."""
        self.tables.add(
            AppointmentEvent,
            appointment_id=key,
            at=at,
            by_id=by,
            what=what,
            step=step.value,
            why=why,
        )
        row = self.tables.row(Appointment, key)
        row["step"] = step.value
        if what != "book":
            row["version"] = row.get("version", 1) + 1
            row["why"] = why
