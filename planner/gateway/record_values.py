"""Values of the record as the engine takes them."""

from __future__ import annotations

from planner.engine import network as engine
from sites.models import Profile, ProgrammeVersion


def policy_of(terms: ProgrammeVersion) -> engine.Policy:
    """Promises and costs of a programme's version."""
    return engine.Policy(
        wait_minutes=terms.wait_minutes,
        wait_risk=terms.wait_risk,
        overtime_minutes=terms.overtime_minutes,
        overtime_risk=terms.overtime_risk,
        cost=engine.Cost(
            unbooked=terms.cost_unbooked,
            late_day=terms.cost_late_day,
            wait_day=terms.cost_wait_day,
            travel_minute=terms.cost_travel_minute,
            move=terms.cost_move,
        ),
    )


def profile_of(profile: Profile) -> engine.Profile:
    """A kind of session; prefetch ``captures``."""
    return engine.Profile(
        id=profile.code,
        setup=engine.Setup(profile.setup_mean, profile.setup_sd),
        captures=tuple(
            engine.Capture(each.kind, each.count, each.seconds, each.retake)
            for each in profile.captures.all()
        ),
        max_attempts=profile.max_attempts,
        remedy_seconds=profile.remedy_seconds,
        wrapup=round(profile.wrapup_minutes),
        no_show=profile.no_show,
    )
