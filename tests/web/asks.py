"""Every page and operation of the web: its address, its rule, and what each person gets.

One line each; add yours here, and a test asks it of owner, colleague, stranger and nobody. The
expected answers are written by hand from who is meant to do what, not read from the code.

``may`` names the roles that get ``ok``, by letter: c coordinator, l site lead, m manager,
t technician, a auditor, x administrator; every other role gets 403. Where ``bound`` is set the
address is inside site-1: a coordinator, site lead or technician of another site gets 404. ``but``
says what differs, by letter. ``nobody`` is what somebody who is not signed in gets.
"""

from __future__ import annotations

from dataclasses import dataclass, field

LETTERS = {
    "c": "coordinator",
    "l": "site_lead",
    "m": "manager",
    "t": "technician",
    "a": "auditor",
    "x": "administrator",
}
SCOPED = "clt"


@dataclass(frozen=True)
class Ask:
    """One request to the server and what it answers, by person."""

    path: str
    may: str
    bound: bool = False
    method: str = "get"
    data: dict[str, str] = field(default_factory=dict)
    ok: int = 200
    nobody: int = 302
    but: dict[str, int] = field(default_factory=dict)

    def owner(self, letter: str) -> int:
        """What a role at site-1 gets."""
        return self.but.get(letter, self.ok) if letter in self.may else 403

    def colleague(self, letter: str) -> int:
        """What the same role at another site gets."""
        if letter in self.may and letter in SCOPED and self.bound:
            return 404
        return self.owner(letter)

    def __str__(self) -> str:
        return f"{self.method} {self.path}"


LOOK = {"look": "yes"}
LEAVE = {"act": "leave"}
TAKE = {"take": "site-1|2026-03-03|600", "seen": "none"}
ASKS = (
    Ask("/", "clmtax", ok=302),
    Ask("/requests/", "clmtax"),
    Ask("/requests.csv", "clmtax"),
    Ask("/chosen/", "clmtax", ok=302),
    Ask("/chosen/", "cx", method="post", data={"act": "hold", "on": "free"}, ok=302),
    Ask("/chosen/", "clmx", method="post", data={"act": "plan", "on": "free"}, ok=302),
    Ask("/chosen/gone/plan/", "clmx", ok=302),  # a set that their session does not have
    *(
        Ask(f"/chosen/gone/{act}/", "cx", method=method, ok=302)
        for act in ("hold", "release", "sites")
        for method in ("get", "post")
    ),
    Ask("/people/find/", "cx", ok=302),
    Ask("/people/find/", "cx", method="post", data={"words": "Listone"}, ok=302),
    Ask("/api/v1/docs/", "clmtax"),
    Ask("/api/v1/docs/intake/", "clmtax"),
    Ask("/requests/booked/", "clmtax", bound=True),
    Ask("/requests/free/", "clmtax", bound=True, but={"t": 404}),  # not on a day of theirs
    Ask("/runs/", "clmax"),
    Ask("/runs/new/", "clmx"),
    Ask("/runs/new/", "clmx", method="post", data={"days": "0"}, ok=422),
    Ask("/runs/1/", "clmax", bound=True),
    Ask("/runs/1/meanwhile/", "clmax", bound=True),
    Ask("/runs/1/ticks/", "clx", bound=True, method="post", data={"shown": "free"}, ok=302),
    Ask("/runs/1/accept/", "clx", bound=True),
    Ask("/runs/1/accept/", "clx", bound=True, method="post", data={"seen": "no"}, ok=409),
    Ask("/runs/2/end/", "clmx", bound=True, method="post", ok=302),
    Ask("/runs/2/aside/", "clx", bound=True, method="post", ok=409),  # there is no plan yet
    Ask("/intake/", "cx"),
    Ask("/intake/", "cx", method="post"),
    Ask("/intake/one/", "cx"),
    Ask("/intake/one/", "cx", method="post"),
    Ask("/intake/candidates.csv", "cx"),
    Ask("/intake/candidates.xlsx", "cx"),
    Ask("/intake/list-1/", "cx", bound=True, but={"x": 404}),  # nobody but who gave it
    Ask("/intake/list-1/", "cx", bound=True, method="post", data=LEAVE, ok=302, but={"x": 404}),
    Ask("/intake/list-1/problems/", "cx", bound=True, but={"x": 404}),
    Ask("/returned/", "clmax"),
    Ask("/returned/", "cx", method="post", ok=302),
    Ask("/returned/register/", "cx"),
    Ask("/returned/register/", "cx", method="post", data={"do": "one"}),
    Ask("/returned/set/c-back-unread/", "clmax", bound=True),
    Ask("/returned/set/c-back-unread/", "cx", bound=True, method="post", data=LOOK, ok=302),
    Ask("/notices/", "clmax"),
    Ask("/notices/", "cx", method="post", ok=302),
    Ask("/notices/booked/1/", "clmax", bound=True),
    Ask("/notices/booked/1/", "cx", bound=True, method="post", data=LOOK, ok=302),
    Ask("/notices/booked/1/calendar/", "clmax", bound=True),
    Ask("/set-up/texts/", "clmax"),
    Ask("/set-up/texts/p-one/booked/", "clmax"),
    Ask("/set-up/texts/p-one/booked/", "x", method="post", data={"do": "look"}),
    Ask("/requests/free/next/", "clmtax", bound=True, but={"t": 404}),
    Ask("/requests/free/offers/", "clx", bound=True),
    Ask("/requests/free/offers/", "clx", bound=True, method="post", data=TAKE, ok=302),
    Ask("/requests/booked/cancel/", "clx", bound=True),
    Ask("/requests/booked/cancel/", "clx", bound=True, method="post", data={"why": ""}),
    Ask("/requests/booked/missed/", "clx", bound=True),
    Ask("/requests/booked/missed/", "clx", bound=True, method="post", data=LOOK, ok=409),
    Ask("/requests/booked/later/", "clx", bound=True),
    Ask("/requests/booked/later/", "clx", bound=True, method="post", data=LOOK),
    Ask("/requests/free/wait/", "clx", bound=True),
    Ask("/requests/free/wait/", "clx", bound=True, method="post", data={"part": "eve"}),
    Ask("/waiting/", "clmax"),
    Ask("/waiting/", "clx", method="post", data=LOOK, ok=302),
    Ask("/days/", "clmtax"),
    Ask("/days/site-1/2026-03-02/", "clmtax", bound=True),
    Ask("/days/site-1/2026-03-08/", "clmtax", bound=True, but={"t": 404}),  # a day without shift
    Ask("/care/", "clmtax"),
    Ask("/care/site-1/", "clmtax", bound=True),
    Ask("/care/site-1/window/", "clmx", bound=True),
    Ask("/care/site-1/window/", "clmx", bound=True, method="post", data=LOOK),
    Ask("/care/site-1/downtime/", "clmx", bound=True),
    Ask("/care/site-1/downtime/", "clmx", bound=True, method="post", data=LOOK),
    Ask("/capacity/", "clmax"),
    Ask("/capacity/outlook/", "clmax"),
    Ask("/set-up/", "clmax"),
    Ask("/audit/", "ax"),
    Ask("/audit/csv/", "ax"),
    Ask("/set-up/locked/", "x"),
    Ask("/set-up/locked/", "x", method="post", data={"username": "nobody"}, ok=302),
    Ask("/set-up/locked/", "x", method="post", data={"address": "192.0.2.1"}, ok=302),
    Ask("/own/password/", "clmtax"),
    Ask("/own/password/", "clmtax", method="post", data={"old_password": "wrong"}),
)
PUBLIC = {
    "sign-in/",
    "sign-out/",
    "health/",
    "alive/",
    "metrics/",
    "api/v1/^(?P<rest>.*)$",
}
"""Routes that are open to everybody. Another one is a decision: it is written here too."""
