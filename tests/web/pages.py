"""Every page: its address, and the caution that it must carry (trade rules: at the act)."""

from __future__ import annotations

COMES_FIRST = "licensed or certified practice come first"
CAUTIONS = {
    "/requests/": ("A plan, not a decision about a person", "no more than the work needs"),
    "/requests/back-again/": ("Never print over fresh cuts", "decided by people"),
    "/runs/": ("A plan, not a decision about a person",),
    "/runs/new/": ("never names",),
    "/runs/1/": ("nothing about who asks", "has to be told"),
    "/runs/1/accept/": ("has to be told",),
    "/runs/1/meanwhile/": ("A plan, not a decision about a person",),
    "/runs/2/": ("has to be told",),
    "/runs/3/": ("has to be told",),
    "/runs/4/": ("has to be told",),
    "/intake/": ("Hold the least personal data", "Never an identity number"),
    "/intake/one/": ("Hold the least personal data", "Never an identity number"),
    "/intake/list-1/": ("only as far as the work needs", "A plan, not a decision about a person"),
    "/returned/": ("says something about pictures, nothing about a person",),
    "/returned/register/": ("no names",),
    "/returned/set/c-back-unread/": ("Never print over fresh cuts", "decided by people"),
    "/notices/": ("Contact data is for telling this person",),
    "/notices/booked/1/": ("hand it to them, keep no copy",),
    "/set-up/texts/": ("A plan, not a decision about a person",),
    "/set-up/texts/p-one/booked/": ("Ask for nothing that the visit does not need",),
    "/requests/free/offers/": ("Never print over fresh cuts", "chances are estimates"),
    "/requests/booked/cancel/": ("Whoever loses their time has to be told",),
    "/requests/gone/later/": ("not medical advice", "Never print over fresh cuts"),
    "/requests/booked/missed/": ("Whoever loses their time has to be told",),
    "/requests/free/wait/": ("Whoever loses their time has to be told",),
    "/waiting/": ("Ask before you book", "not a decision about a person"),
    "/days/": ("A plan, not a decision about a person",),
    "/days/site-1/2026-03-02/": ("Never print over fresh cuts", "clean platen", "are estimates"),
    "/days/site-1/2026-03-08/": ("Never print over fresh cuts",),
    "/care/": ("The maker's instructions",),
    "/care/site-1/": ("Clean the platen before calibrating",),
    "/care/site-1/window/": ("Whoever loses their place has to be told",),
    "/care/site-1/downtime/": ("Whoever loses their place has to be told",),
    "/capacity/": ("not about a person",),
    "/capacity/outlook/": ("An estimate, not a promise",),
    "/set-up/": ("Record needs, never diagnoses",),
    "/set-up/locked/": ("may be an attack",),
    "/api/v1/docs/": ("Hold no copy of names",),
    "/api/v1/docs/intake/": ("Hold no copy of names",),
    "/own/password/": ("tell it to nobody",),
}
ROLES = {"/set-up/locked/": "administrator"}
"""Who looks at a page, where it is not the coordinator."""

PAGES = list(CAUTIONS)
