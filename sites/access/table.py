"""What can be done, and by whom: a line a thing. Every view and operation names one of these.

Reading is named ``noun.see``, everything else changes something and is never for an auditor. A
rule asks for a role; given a site, it asks whether the role holds there as well.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.core.exceptions import PermissionDenied
from rules.predicates import predicate
from rules.rulesets import RuleSet

from sites.access.roles import (
    DESK,
    EVERYBODY,
    HOUSE,
    Who,
    has_role,
    home_sites,
    sees_everywhere,
)
from sites.models.account import Role, User
from sites.models.site import Site


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing that can be done: in words that begin a sentence, and who may."""

    words: str
    roles: tuple[Role, ...]

    @property
    def sentence(self) -> str:
        """Said to whoever may not."""
        named = [each for each in Role if each in self.roles or each == Role.ADMINISTRATOR]
        *most, last = [a(role) for role in named]
        return f"{self.words} is for {', '.join(most)}{' or ' if most else ''}{last}."


class Refused(PermissionDenied):
    """A role may not do this; the text is the sentence to show, ``code`` the rule's name."""

    def __init__(self, name: str) -> None:
        super().__init__(RULES[name].sentence)
        self.code = name


def a(role: Role) -> str:
    """``a site lead``, ``an auditor``."""
    word = role.label.lower()
    return f"an {word}" if word[0] in "aeiou" else f"a {word}"


ADMINISTRATOR = (Role.ADMINISTRATOR,)
OFFICE = (*DESK, Role.MANAGER, Role.AUDITOR)

RULES: dict[str, Rule] = {
    "requests.see": Rule("Looking at requests", EVERYBODY),
    "requests.change": Rule("Changing a request", (Role.COORDINATOR,)),
    "bookings.change": Rule("Booking, moving and cancelling", DESK),
    "people.find": Rule("Finding a person by name or contact data", (Role.COORDINATOR,)),
    "intake.change": Rule("Taking requests in", (Role.COORDINATOR,)),
    "returns.see": Rule("Looking at returned requests", OFFICE),
    "returns.change": Rule("Working on returned requests", (Role.COORDINATOR,)),
    "notices.see": Rule("Looking at notices", OFFICE),
    "notices.change": Rule("Telling subjects", (Role.COORDINATOR,)),
    "runs.see": Rule("Looking at planning runs", OFFICE),
    "runs.start": Rule("Starting and ending planning runs", (*DESK, Role.MANAGER)),
    "runs.accept": Rule("Accepting what a planning run proposes", DESK),
    "waiting.see": Rule("Looking at the waiting list", OFFICE),
    "days.see": Rule("Looking at days", EVERYBODY),
    "arrivals.change": Rule("Keeping who came and who did not", HOUSE),
    "sessions.see": Rule("Looking at sessions", EVERYBODY),
    "sessions.change": Rule("Recording a session", (Role.TECHNICIAN, Role.SITE_LEAD)),
    "care.see": Rule("Looking at scanner care", EVERYBODY),
    "care.change": Rule("Setting care or a downtime", (*DESK, Role.MANAGER)),
    "care.close": Rule("Keeping that care was done or missed", (Role.TECHNICIAN, Role.SITE_LEAD)),
    "quality.see": Rule("Looking at quality", (Role.SITE_LEAD, Role.MANAGER, Role.AUDITOR)),
    "roster.see": Rule("Looking at rosters", (*HOUSE, Role.MANAGER, Role.AUDITOR)),
    "roster.change": Rule("Changing a roster", (Role.SITE_LEAD, Role.MANAGER)),
    "supplies.see": Rule("Looking at supplies", (*HOUSE, Role.MANAGER, Role.AUDITOR)),
    "supplies.change": Rule("Counting supplies", (Role.SITE_LEAD, Role.TECHNICIAN)),
    "capacity.see": Rule("Looking at capacity", OFFICE),
    "forecast.see": Rule("Looking at forecasts", OFFICE),
    "whatif.change": Rule("Trying what would change the outlook", (Role.MANAGER,)),
    "setup.see": Rule("Looking at how sites and rules are set up", OFFICE),
    "setup.change": Rule("Changing programmes, sites and rules", ADMINISTRATOR),
    "tables.change": Rule("Opening the tables of the record", ADMINISTRATOR),
    "logins.change": Rule("Making, changing and unlocking logins", ADMINISTRATOR),
    "audit.see": Rule("Looking at the audit", (Role.AUDITOR,)),
    "own.change": Rule("Changing one's own login", EVERYBODY),
    "frame.see": Rule("Being signed in", EVERYBODY),
}


def rule(name: str) -> Rule:
    """A rule by its name. Raises KeyError for a name that the table does not have."""
    return RULES[name]


@predicate
def at_own_site(user: Who, site: Site | None) -> bool:
    """Whether the role holds at a site; without a site there is nothing to ask."""
    if site is None or sees_everywhere(user):
        return True
    return isinstance(user, User) and home_sites(user).filter(pk=site.pk).exists()


def one_of(roles: tuple[Role, ...]) -> Callable[[Who], bool]:
    """Whether somebody has one of these roles."""

    def holds(user: Who) -> bool:
        return has_role(user, roles)

    return holds


HELD = RuleSet()
for _name, _rule in RULES.items():
    HELD.add_rule(_name, predicate(one_of(_rule.roles), name=_name) & at_own_site)


def may(user: Who | None, name: str, site: Site | None = None) -> bool:
    """Whether somebody may do a thing, at a site where one is given.

    Raises KeyError for a name that the table does not have: a misspelt rule never opens anything.
    """
    if name not in RULES:
        raise KeyError(f"{name}: no such rule; add it to sites/access/table.py")
    return bool(HELD.test_rule(name, user, site))


def ensure(user: Who | None, name: str, site: Site | None = None) -> None:
    """Raise `Refused` with the rule's sentence where somebody may not."""
    if not may(user, name, site):
        raise Refused(name)
