"""Rules of the horizon, the policy and the profiles."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from planner.engine.network_rules import values
from planner.engine.network_rules.found import Found, shown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.engine.network import Capture, Network, Profile

KINDS = ("plain", "rolled")


def horizon_faults(network: Network) -> Iterator[Found]:
    """Grain and days are above 0, and the last day exists."""
    yield from values.above_zero(("grain",), network.grain)
    # Not "is it above 0": NaN, a number of days counted from an unknown day, is no fault here.
    if network.days <= 0:
        yield from values.above_zero(("days",), network.days)
    # The midnight that ends the last day must have a date too.
    if network.days > (date.max - network.first_day).days:
        problem = f"{network.days} days from {network.first_day} run past the year 9999"
        yield Found(("days",), problem, "write fewer days, or an earlier `first_day`")


def policy_faults(network: Network) -> Iterator[Found]:
    """Risks are probabilities; minutes and costs are not negative."""
    policy, cost = network.policy, network.policy.cost
    yield from values.not_negative(("policy", "wait_minutes"), policy.wait_minutes)
    yield from values.probability(("policy", "wait_risk"), policy.wait_risk)
    yield from values.not_negative(("policy", "overtime_minutes"), policy.overtime_minutes)
    yield from values.probability(("policy", "overtime_risk"), policy.overtime_risk)
    for key in cost.__slots__:
        yield from values.not_negative(("policy", "cost", key), getattr(cost, key))


def profile_faults(network: Network) -> Iterator[Found]:
    """What a profile says can be the length of a session."""
    yield from values.own_ids("profiles", network.profiles)
    for i, profile in enumerate(network.profiles):
        yield from _one_profile(i, profile)


def _one_profile(i: int, profile: Profile) -> Iterator[Found]:
    path, setup = ("profiles", i), profile.setup
    yield from values.not_negative((*path, "setup", "mean"), setup.mean)
    yield from values.not_negative((*path, "setup", "sd"), setup.sd)
    if setup.mean == 0 and setup.sd > 0:
        problem = f"{shown(setup.sd)} is above 0 although `mean` is 0: no such times exist"
        yield Found((*path, "setup", "sd"), problem, "write 0, or a mean above 0")
    for k, capture in enumerate(profile.captures):
        yield from _one_capture(i, k, capture)
    yield from values.above_zero((*path, "max_attempts"), profile.max_attempts)
    yield from values.not_negative((*path, "remedy_seconds"), profile.remedy_seconds)
    yield from values.not_negative((*path, "wrapup"), profile.wrapup)
    yield from values.probability((*path, "no_show"), profile.no_show)
    yield from values.words((*path, "skills"), profile.skills)


def _one_capture(i: int, k: int, capture: Capture) -> Iterator[Found]:
    path = ("profiles", i, "captures", k)
    if capture.kind not in KINDS:
        problem = f"{shown(capture.kind)} is no kind of capture"
        yield Found((*path, "kind"), problem, "write `plain` or `rolled`")
    yield from values.not_negative((*path, "count"), capture.count)
    yield from values.not_negative((*path, "seconds"), capture.seconds)
    yield from values.probability((*path, "retake"), capture.retake)
    if capture.retake == 1:
        problem = "1 means that no capture ever succeeds"
        yield Found((*path, "retake"), problem, "write a probability below 1")
