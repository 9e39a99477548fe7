"""The least change: a plan answers to events, and who is not touched stays where they are."""

from planner.engine.booking.replan.events import Events, Outage, check_events
from planner.engine.booking.replan.news import Change, News
from planner.engine.booking.replan.run import Replanned, replan

__all__ = ["Change", "Events", "News", "Outage", "Replanned", "check_events", "replan"]
