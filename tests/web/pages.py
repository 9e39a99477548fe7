"""Every page: its address, and the caution that it must carry (trade rules: at the act)."""

from __future__ import annotations

COMES_FIRST = "licensed or certified practice come first"
CAUTIONS = {
    "/requests/": ("A plan, not a decision about a person", "no more than the work needs"),
    "/requests/back-again/": ("Never print over fresh cuts", "decided by people"),
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
    "/own/password/": ("tell it to nobody",),
}
ROLES = {"/set-up/locked/": "administrator"}
"""Who looks at a page, where it is not the coordinator."""

PAGES = list(CAUTIONS)
