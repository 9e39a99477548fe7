"""Words for where a run stands and what it does."""

from __future__ import annotations

from sites.models import PlanRun, RunState

STAGES = {
    "read": "reading the record",
    "lengths": "working out how long sessions take",
    "options": "listing where each request could go",
    "ascent": "pricing the room",
    "program": "sharing out the room",
    "care": "placing scanner care",
    "timetable": "making each day to the minute",
    "push back": "finding room for who had none",
    "improve": "improving",
    "exact days": "trying full days exactly",
    "mend": "keeping promises",
    "polish": "improving once more",
    "reasons": "saying why somebody is left out",
    "check": "checking the plan",
    "join": "joining the regions",
    "keep": "keeping the plan",
}
"""Every stage that a run tells of; an unknown one is shown as it is."""


def stage_words(stage: str) -> str:
    """A stage as a person reads it."""
    return STAGES.get(stage, stage) or "about to begin"


def note_of(state: str) -> str:
    """Which of the three notes goes with a state, or none; the word is always written beside it."""
    return {
        RunState.READY: "risk",
        RunState.FAILED: "broken",
        RunState.KEPT: "kept",
    }.get(RunState(state), "")


def scope_words(run: PlanRun) -> str:
    """Which requests were asked for."""
    if run.requests is None:
        return "all that need a session"
    count = len(run.requests)
    return "1 chosen request" if count == 1 else f"{count:,} chosen requests"


def sites_words(names: list[str]) -> str:
    """Which sites, in a few words."""
    if not names:
        return "all sites"
    return ", ".join(names) if len(names) < 4 else f"{len(names)} sites"


def thinks_for(run: PlanRun) -> str:
    """How long it may think."""
    if run.effort is not None:
        return f"effort {run.effort}"
    seconds = 30 if run.seconds is None else round(run.seconds)
    return f"{seconds} s" if seconds < 120 else f"{seconds / 60:.0f} min"
