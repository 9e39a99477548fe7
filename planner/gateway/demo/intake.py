"""Who asks for a set of prints, day by day: subjects and their requests, all invented."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from planner.engine.network import Profile
from planner.engine.rng import stream
from planner.engine.scenario.crew import SKILLS
from planner.engine.scenario.demo_layout import SEATS, SITES, SitePlan
from planner.engine.scenario.names import person_names
from planner.engine.scenario.profiles import (
    FIRST_SESSIONS,
    FIRST_SHARES,
    REWORK,
    all_profiles,
    profile_at,
)
from planner.gateway.demo.captures import Dice
from planner.gateway.demo.house import DUE_DAYS, TERMS_CHANGED, VALIDITY_DAYS, House, midnight
from planner.gateway.demo.tables import Tables
from sites.crypto import lookup
from sites.models import Request, RequestSite, RequestTime, Subject

REWORK_DAYS = 14
HAND_CARE_DAYS = 7
FEATURED, SKILLED, EMAILED, PICKY = 0.05, 0.06, 0.3, 0.15  # ours
LANGUAGES = {"en": 0.8, "es": 0.12, "fr": 0.08}
SPEED = 1.3 / 40 * 60
"""Minutes a kilometre as the crow flies, as the record's settings have it."""
NAMES = 60_000


@dataclass(slots=True)
class Need:
    """A request that still needs a session; ``since`` is when it can first be booked."""

    request: int
    subject: int
    plan: SitePlan
    profile: Profile
    ready: date
    since: datetime
    features: frozenset[str]
    skills: frozenset[str]
    again: bool = False
    missed: int = 0
    returned: str = ""
    returns: int = 0


class Intake:
    """Makes subjects and requests, and keeps their rows."""

    def __init__(self, tables: Tables, house: House, today: date, seed: int) -> None:
        self.tables, self.house, self.today = tables, house, today
        self.dice = Dice(stream(seed, "intake"))
        self.names = person_names(NAMES, stream(seed, "names"))
        self.learnt = {profile.id: profile for profile in all_profiles()}
        self.kinds = {str(n): share for n, share in enumerate(FIRST_SHARES)}
        self.near = {plan.id: neighbours(plan) for plan in SITES}
        self.had = {
            plan.id: frozenset(word for words in plan.features for word in words) for plan in SITES
        }
        self.known = {
            plan.id: frozenset(
                word
                for seat in SEATS
                if any(site == plan.id for site, _ in seat.works)
                for word in seat.skills
            )
            for plan in SITES
        }

    def terms_on(self, day: date) -> tuple[int, int]:
        """The programme's version of a day, and its days until a request is due."""
        late = day >= self.today - timedelta(days=TERMS_CHANGED)
        return (2 if late else 1), DUE_DAYS[late]

    def first(self, plan: SitePlan, day: date, release: date | None = None) -> Need:
        """A new subject's request, received on a day at a site's area."""
        dice = self.dice
        kind = FIRST_SESSIONS[int(dice.word(self.kinds))]
        features, skills = frozenset[str](), frozenset[str]()
        if dice.uniform() < FEATURED and self.had[plan.id]:
            words = sorted(self.had[plan.id])
            features = frozenset({words[dice.below(len(words))]})
        if dice.uniform() < SKILLED:
            skills = frozenset({SKILLS[dice.below(len(SKILLS))]}) & self.known[plan.id]
        subject = self.subject(plan, access="accessible" in features, longer=kind.id != "full_set")
        terms, due_days = self.terms_on(day)
        release = release or day
        due = release + timedelta(days=due_days)
        request = self.request(
            subject,
            kind,
            plan,
            features,
            skills,
            terms=terms,
            received=day,
            release=release,
            due=due,
        )
        lead = 2 + int(dice.rng.gamma(2.0, 2.5))
        since = midnight(day) + timedelta(minutes=14 * 60 + dice.below(240))
        ready = max(release, day + timedelta(days=lead))
        return Need(request, subject, plan, self.at(kind, plan), ready, since, features, skills)

    def rework(self, need: Need, returned: str, contacted: datetime) -> Need:
        """The request that an image return asks for, of the same subject, at the same site."""
        day = contacted.date()
        release = day + timedelta(days=HAND_CARE_DAYS if self.dice.uniform() < 0.5 else 1)
        skills = frozenset({SKILLS[0]}) & self.known[need.plan.id]
        skills = skills if self.dice.uniform() < 0.5 else frozenset()
        before = self.tables.row(Request, need.request)
        request = self.request(
            need.subject,
            REWORK,
            need.plan,
            need.features,
            skills,
            terms=before["terms_id"],
            received=day,
            release=release,
            due=max(release, day + timedelta(days=REWORK_DAYS)),
            rework=True,
            rework_of_id=need.request,
            resubmissions=need.returns + 1,
            priority=2.0,
        )
        return Need(
            request,
            need.subject,
            need.plan,
            self.at(REWORK, need.plan),
            max(release, day + timedelta(days=1 + self.dice.below(5))),
            contacted,
            need.features,
            skills,
            again=True,
            returned=returned,
            returns=need.returns + 1,
        )

    def at(self, kind: Profile, plan: SitePlan) -> Profile:
        """The profile as learnt at a site."""
        return self.learnt[profile_at(kind, plan.rates) or kind.id]

    def subject(self, plan: SitePlan, *, access: bool, longer: bool) -> int:
        """Somebody who is not there: country code 999 is nobody's, ``.invalid`` no address's."""
        dice = self.dice
        number = len(self.tables.rows[Subject]) + 1
        given, family = self.names[number % NAMES]
        phone = f"+999 {number:06d}"
        email = f"s{number:06d}@people.invalid" if dice.uniform() < EMAILED else ""
        return self.tables.add(
            Subject,
            reference=f"s-{number:06d}",
            given_name=given,
            family_name=family,
            family_name_key=lookup(family),
            phone=phone,
            phone_key=lookup(phone),
            email=email,
            email_key=lookup(email),
            language=dice.word(LANGUAGES),
            needs_access=access,
            needs_longer=longer and dice.uniform() < 0.5,
            home_area_id=self.house.areas[plan.id],
        )

    def request(
        self,
        subject: int,
        kind: Profile,
        plan: SitePlan,
        features: frozenset[str],
        skills: frozenset[str],
        *,
        terms: int,
        received: date,
        release: date,
        due: date,
        **values: object,
    ) -> int:
        """A request with its sites, words and times."""
        tables, house, dice = self.tables, self.house, self.dice
        number = len(tables.rows[Request]) + 1
        urgent = 3.0 if dice.uniform() < 0.015 else 2.0 if dice.uniform() < 0.05 else 1.0
        known = {
            "reference": f"q-{number:06d}",
            "subject_id": subject,
            "terms_id": terms,
            "profile_id": house.profiles[kind.id],
            "control_number": f"INV-{number:06d}",
            "received": received,
            "release": release,
            "due": due,
            "expires": max(due, received + timedelta(days=VALIDITY_DAYS)),
            "priority": urgent,
        }
        request = tables.add(Request, **{**known, **values})
        several = 1 + (dice.uniform() < 0.5) + (dice.uniform() < 0.3)
        for site, travel in self.near[plan.id][:several]:
            place = next(each for each in SITES if each.id == site)
            learnt = profile_at(kind, place.rates)
            tables.add(
                RequestSite,
                request_id=request,
                site_id=house.sites[site],
                travel=travel + 3 + dice.below(15),
                profile_id=house.profiles[learnt] if learnt else None,
            )
        for word in sorted(features):
            tables.add(
                Request.features.through, request_id=request, feature_id=house.features[word]
            )
        for word in sorted(skills):
            tables.add(Request.skills.through, request_id=request, skill_id=house.skills[word])
        return request

    def choosy(self, need: Need) -> None:
        """Some can come on a few weekdays only: times for those still to book."""
        if self.dice.uniform() >= PICKY:
            return
        off = self.dice.below(3)
        for offset in range(-2, 40):
            day = self.today + timedelta(days=offset)
            if day.weekday() < 5 and day.weekday() % 3 != off:
                self.tables.add(
                    RequestTime, request_id=need.request, day=day, minute=420, minutes=840
                )


def neighbours(plan: SitePlan) -> list[tuple[str, int]]:
    """The site itself and the others within an hour, nearest first, with minutes of travel."""
    apart = sorted(
        (float(np.hypot(plan.x - each.x, plan.y - each.y)) * SPEED, each.id) for each in SITES
    )
    return [(site, int(minutes)) for minutes, site in apart if minutes <= 60]
