"""The step table, walked through: what leads where, and for whom."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sites.errors import StepRefused
from sites.models import ACTIVE, OCCUPIES, Role, Step, User
from sites.steps import ACTIONS, BY_NAME, actions_from, may, step_after

ROLES = [*Role.values, None]
NAMES = st.sampled_from([action.name for action in ACTIONS])
# Written down from what a desk does, not from the table: what may be over, and who may do what.
OVER = {Step.HELD, Step.CANCELLED}
MAY: dict[str, set[str | None]] = {
    "book": {"administrator", "coordinator", "site_lead", None},
    "move": {"administrator", "coordinator", "site_lead", None},
    "displace": {"administrator", "coordinator", "site_lead", "manager", None},
    "cancel": {"administrator", "coordinator", "site_lead", None},
    "arrive": {"administrator", "coordinator", "site_lead", "technician"},
    "take_back": {"administrator", "coordinator", "site_lead", "technician"},
    "no_show": {"administrator", "coordinator", "site_lead", "technician"},
    "start": {"administrator", "technician", "site_lead"},
    "finish": {"administrator", "technician", "site_lead"},
}


def person(role: str | None) -> User | None:
    """Somebody with a role; None is a planning run."""
    return User(username=role, role=role) if role else None


@given(st.lists(st.tuples(NAMES, st.sampled_from(ROLES)), max_size=30))
def test_no_walk_leaves_the_table(walk: list[tuple[str, str | None]]) -> None:
    step: Step | None = None
    for name, role in walk:
        allowed = step in BY_NAME[name].sources and role in MAY[name]
        if not allowed:
            with pytest.raises(StepRefused) as refused:
                step_after(step, name, person(role))
            assert refused.value.remedy
            continue
        before, step = step, step_after(step, name, person(role))
        assert before not in OVER
        assert step == BY_NAME[name].target
        if name not in {"book", "move"}:
            assert before is not None


@given(st.lists(NAMES, max_size=40))
def test_a_session_is_held_only_by_somebody_who_arrived(walk: list[str]) -> None:
    """However one gets there, the way to 'held' leads through booked, arrived and under way."""
    boss = User(username="boss", is_superuser=True)
    step: Step | None = None
    seen: list[Step] = []
    for name in walk:
        if step in BY_NAME[name].sources:
            step = step_after(step, name, boss)
            seen.append(step)
    if Step.HELD in seen:
        assert seen[seen.index(Step.HELD) - 2 : seen.index(Step.HELD)] == [
            Step.ARRIVED,
            Step.UNDERWAY,
        ]


def test_every_step_is_reached_from_the_beginning() -> None:
    reached: set[Step | None] = {None}
    for _ in Step:
        reached |= {action.target for action in ACTIONS if reached & set(action.sources)}
    assert reached == {None, *Step}


def test_what_is_over_leads_nowhere_and_takes_no_place_but_history() -> None:
    boss = User(username="boss", is_superuser=True)
    for step in OVER:
        assert actions_from(step, boss) == []
        assert step not in ACTIVE
    assert Step.CANCELLED not in OCCUPIES
    assert Step.NO_SHOW not in OCCUPIES
    assert Step.DISPLACED not in OCCUPIES


@pytest.mark.parametrize("name", [action.name for action in ACTIONS])
def test_who_may_take_a_step(name: str) -> None:
    assert {role for role in ROLES if may(person(role), BY_NAME[name])} == MAY[name]


def test_somebody_who_has_left_may_do_nothing() -> None:
    left = User(username="left", role=Role.COORDINATOR, is_active=False)
    assert not any(may(left, action) for action in ACTIONS)


def test_the_refusal_names_what_is_possible() -> None:
    clerk = User(username="c", role=Role.COORDINATOR)
    with pytest.raises(StepRefused, match="possible from here: move, displace, cancel"):
        step_after(Step.BOOKED, "start", clerk)
    with pytest.raises(StepRefused, match="ask one of: technician, site lead"):
        step_after(Step.ARRIVED, "start", clerk)
