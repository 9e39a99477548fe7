"""What there is to say about the length of each kind of session."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.engine.sessions.length import session_length
from planner.engine.sessions.planned import planned_minutes

if TYPE_CHECKING:
    from planner.engine.network import Network


@dataclass(frozen=True, slots=True)
class SessionRow:
    """One profile; all but ``p_unmet`` (a probability) in minutes.

    ``mean`` to ``q95`` are of a session that takes place, ``mean_booked`` counts a no-show as 0,
    ``p_unmet`` is P(some capture is still short after its last attempt), ``planned`` the shortest
    whole minutes that keep the policy's promises (see `planned_minutes`).
    """

    profile: str
    mean: float
    sd: float
    q50: float
    q90: float
    q95: float
    mean_booked: float
    p_unmet: float
    planned: int


def session_rows(network: Network) -> list[SessionRow]:
    """A row for each profile, in the network's order."""
    rows = []
    for profile in network.profiles:
        length = session_length(profile)
        rows.append(
            SessionRow(
                profile=profile.id,
                mean=length.mean,
                sd=length.sd,
                q50=length.quantile(0.50),
                q90=length.quantile(0.90),
                q95=length.quantile(0.95),
                mean_booked=length.mean_booked,
                p_unmet=length.p_unmet,
                planned=planned_minutes(profile, network.policy, network.grain),
            )
        )
    return rows
