"""Who may do what, and whose rows somebody sees: the one place that says it.

`table` names what can be done and the roles that may; `visible` has one function a noun that gives
the rows somebody sees; `here` refuses to write one that is not among them; `personal` says whose
name and contact data is shown to whom. Pages, the API, commands, selectors and services ask here
and decide nothing themselves.
"""

from sites.access.here import NotHere, require_here
from sites.access.personal import Person, needs_shown, people_shown, person_shown
from sites.access.roles import home_sites, is_administrator, sees_everywhere
from sites.access.table import RULES, Refused, ensure, may, rule
from sites.access.visible import (
    absences_visible,
    appointments_visible,
    care_visible,
    days_visible,
    downtimes_visible,
    notices_visible,
    plan_runs_visible,
    proposals_visible,
    requests_visible,
    responses_visible,
    scanners_visible,
    sessions_visible,
    shifts_visible,
    sites_visible,
    stations_visible,
    subjects_visible,
    submissions_visible,
    supplies_visible,
    technicians_visible,
    waits_visible,
)

__all__ = [
    "RULES",
    "NotHere",
    "Person",
    "Refused",
    "absences_visible",
    "appointments_visible",
    "care_visible",
    "days_visible",
    "downtimes_visible",
    "ensure",
    "home_sites",
    "is_administrator",
    "may",
    "needs_shown",
    "notices_visible",
    "people_shown",
    "person_shown",
    "plan_runs_visible",
    "proposals_visible",
    "requests_visible",
    "require_here",
    "responses_visible",
    "rule",
    "scanners_visible",
    "sees_everywhere",
    "sessions_visible",
    "shifts_visible",
    "sites_visible",
    "stations_visible",
    "subjects_visible",
    "submissions_visible",
    "supplies_visible",
    "technicians_visible",
    "waits_visible",
]
