"""Charts as SVG: Altair builds them, vl-convert draws them; no browser and no server needed."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import altair as alt
import numpy as np
import pandas as pd

from planner.engine.sessions.length import session_length
from planner.engine.sessions.planned import planned_minutes

if TYPE_CHECKING:
    from planner.engine.network import Network

_INK, _QUIET, _ACCENT = "#1d2430", "#5b6472", "#1f5fa8"  # each at least 4.5 : 1 on the paper
_PAPER = "#ffffff"  # opaque, so that the chart reads the same on a light and on a dark page
_FONT = "system-ui, sans-serif"
_POINTS = 300


def lengths_svg(network: Network) -> bytes:
    """How long sessions take: one band for each profile, as an SVG file.

    Each band shows P(a session that takes place is longer than t) over t in minutes, with the
    planned minutes marked and labelled.
    """
    points = _points(network)
    if points.empty:
        words = "No profiles in this network: nothing to draw"
        return _svg(alt.Chart(points, title=words).mark_point().properties(width=480, height=20))
    share = alt.Y(
        "share:Q",
        title=None,
        stack=None,
        scale=alt.Scale(domain=[0, 1]),
        axis=alt.Axis(format="%", tickCount=3),
    )
    every = alt.Chart().encode(
        alt.X("t:Q", title="minutes since the session began", axis=alt.Axis(grid=False))
    )
    curve = every.transform_filter("datum.label === null").encode(share)
    planned = every.transform_filter("datum.label !== null")
    label = planned.mark_text(align="left", dx=5, baseline="top", color=_INK)
    bands = alt.layer(
        curve.mark_area(color=_ACCENT, opacity=0.25, interpolate="step-after"),
        curve.mark_line(color=_ACCENT, interpolate="step-after"),
        planned.mark_rule(color=_INK, strokeDash=[4, 3]),
        label.encode(y=alt.value(4), text="label:N"),
        data=points,
    ).properties(width=480, height=72)
    title = alt.Title(
        "How long sessions take",
        subtitle="share of sessions still going on after so many minutes; dashed: planned length",
    )
    rows = bands.facet(
        row=alt.Row("profile:N", title=None, sort=[profile.id for profile in network.profiles]),
        title=title,
    )
    return _svg(rows)


def _points(network: Network) -> pd.DataFrame:
    """The points of the curves (``share``), and one for each planned length (``label``)."""
    planned = {
        profile: planned_minutes(profile, network.policy, network.grain)
        for profile in network.profiles
    }
    longest = [session_length(profile).quantile(0.999) for profile in network.profiles]
    times = np.linspace(0.0, max([*longest, *planned.values(), 1]), _POINTS)
    points: list[dict[str, object]] = []
    for profile, minutes in planned.items():
        length = session_length(profile)
        points += [
            {"profile": profile.id, "t": float(t), "share": length.sf(float(t)), "label": None}
            for t in times
        ]
        label = f"planned {minutes} min, {length.sf(minutes):.0%} take longer"
        points.append({"profile": profile.id, "t": minutes, "share": None, "label": label})
    return pd.DataFrame(points, columns=["profile", "t", "share", "label"])


def _svg(chart: alt.Chart | alt.FacetChart) -> bytes:
    dressed = (
        chart.configure(background=_PAPER, font=_FONT, padding=12)
        .configure_view(stroke=None)
        .configure_axis(labelColor=_QUIET, titleColor=_QUIET, domainColor=_QUIET, tickColor=_QUIET)
        .configure_header(labelColor=_INK, labelAngle=0, labelAlign="left", labelFontWeight="bold")
        .configure_title(color=_INK, subtitleColor=_QUIET, anchor="start")
    )
    out = io.StringIO()
    dressed.save(out, format="svg")
    return out.getvalue().encode()
