"""The steps of an appointment and who may take them: one table, which services and pages read."""

from __future__ import annotations

from dataclasses import dataclass

from sites.access.roles import DESK, FLOOR, HOUSE, has_role
from sites.errors import StepRefused
from sites.models.account import Role, User
from sites.step import Step


@dataclass(frozen=True, slots=True)
class Action:
    """``action`` leads from each of ``sources`` (None: not yet booked) to ``target``.

    ``plan`` says that a planning run may take it, with nobody at the keyboard.
    """

    name: str
    sources: tuple[Step | None, ...]
    target: Step
    roles: tuple[Role, ...]
    plan: bool = False


ACTIONS = (
    Action("book", (None,), Step.BOOKED, DESK, plan=True),
    Action("move", (Step.BOOKED, Step.DISPLACED), Step.BOOKED, DESK, plan=True),
    Action("displace", (Step.BOOKED,), Step.DISPLACED, (*DESK, Role.MANAGER), plan=True),
    Action("cancel", (Step.BOOKED, Step.DISPLACED, Step.ARRIVED), Step.CANCELLED, DESK, plan=True),
    Action("arrive", (Step.BOOKED, Step.NO_SHOW), Step.ARRIVED, HOUSE),
    Action("take_back", (Step.ARRIVED,), Step.BOOKED, HOUSE),
    Action("no_show", (Step.BOOKED,), Step.NO_SHOW, HOUSE),
    Action("start", (Step.ARRIVED,), Step.UNDERWAY, FLOOR),
    Action("finish", (Step.UNDERWAY,), Step.HELD, FLOOR),
)
BY_NAME = {action.name: action for action in ACTIONS}


def may(user: User | None, action: Action) -> bool:
    """Whether this person (None: a planning run) may take the step at all."""
    if user is None:
        return action.plan
    return has_role(user, action.roles)


def actions_from(step: Step | None, user: User | None) -> list[Action]:
    """What this person may do next."""
    return [action for action in ACTIONS if step in action.sources and may(user, action)]


def step_after(step: Step | None, name: str, user: User | None) -> Step:
    """Where a step leads. Raises StepRefused where the table has no such step, or not for them."""
    action = BY_NAME.get(name)
    here = step.label.lower() if step else "not booked"
    if action is None or step not in action.sources:
        possible = ", ".join(each.name for each in actions_from(step, user)) or "nothing"
        raise StepRefused(name, f"cannot follow on '{here}'", f"possible from here: {possible}")
    if not may(user, action):
        roles = ", ".join(role.label.lower() for role in action.roles)
        raise StepRefused(name, "is not for this role", f"ask one of: {roles}")
    return action.target
