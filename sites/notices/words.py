"""Texts with variables: ``{name}`` and no more, so that a text can ask for nothing else."""

from __future__ import annotations

import re
from collections.abc import Mapping

from sites.errors import BadValue
from sites.models import NoticeKind

VARIABLES = {
    "name": "the subject's name",
    "reference": "the request's number",
    "programme": "the programme's name",
    "contact": "how to reach the programme (Set-up, programme)",
    "bring": "what to bring (Set-up, programme)",
    "hands": "how to care for the hands; our standard text",
    "wait": "when a session must wait; our standard text",
    "site": "the site's name",
    "directions": "where the site is (Set-up, site)",
    "day": "the day, in the text's language",
    "time": "the told time, 24 hours, on the site's clock",
    "zone": "the site's zone, with its distance from UTC on that day",
    "minutes": "minutes to allow for the visit",
}
"""All variables, with what they stand for."""

OF_APPOINTMENTS = {"site", "directions", "day", "time", "zone", "minutes"}
IN_HEADINGS = ("programme", "site")
"""Subject lines are read by everybody who sees a screen or a log: nothing in them is personal."""

MARK = re.compile(r"\{([^{}]*)\}")


def known(kind: NoticeKind, *, heading: bool = False) -> tuple[str, ...]:
    """The variables that a text of a kind can use; one on a return knows of no appointment."""
    names = IN_HEADINGS if heading else tuple(VARIABLES)
    return tuple(
        name for name in names if kind != NoticeKind.RETURNED or name not in OF_APPOINTMENTS
    )


def require_known(kind: NoticeKind, text: str, *, heading: bool = False) -> None:
    """Raise BadValue where a text asks for a variable that it cannot have, or a brace is open."""
    names = known(kind, heading=heading)
    remedy = f"use one of {', '.join('{' + name + '}' for name in names)}, or no braces"
    for word in MARK.findall(text):
        if word not in names:
            place = "in a subject line" if heading and word in VARIABLES else "here"
            raise BadValue("{" + word + "}", f"is not known {place}", remedy)
    if re.search(r"[{}]", MARK.sub("", text)):
        raise BadValue("a brace", "stands alone", remedy)


def filled(text: str, values: Mapping[str, str]) -> str:
    """The text with its variables; a line that only asks for an empty one goes.

    Values are put in as they are: one that holds braces is not looked at again. Raises BadValue
    where there is no such variable.
    """
    for word in MARK.findall(text):
        if word not in values:
            raise BadValue("{" + word + "}", "has no value here", "take it out of the text")
    lines = []
    for line in text.splitlines():
        names = MARK.findall(line)
        if names and not MARK.sub("", line).strip(" -:") and not any(values[n] for n in names):
            continue
        lines.append(MARK.sub(lambda found: values[found[1]], line))
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip()
