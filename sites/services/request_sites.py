"""Which sites requests can go to is changed, of one or many."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import date

from sites.errors import BadValue
from sites.models import HomeArea, Request, RequestSite, Site, Subject, TravelTime
from sites.selectors.chosen import How, judge_sites
from sites.selectors.parts import parts
from sites.selectors.travel import travel_minutes
from sites.services.outcome import Outcome, locked, sorted_out
from sites.services.write import written


@written
def requests_sites_change(
    *,
    requests: Iterable[Request],
    how: How,
    sites: Collection[Site],
    within: Collection[Site],
    today: date,
    seen: Mapping[int, str] | None = None,
) -> Outcome:
    """Let requests go to more sites, to these alone, or not to these.

    Only sites ``within`` are given or taken; the others of a request stay, and a site that stays
    keeps the profile that was learnt there. ``seen`` is what `judge_sites` said when somebody
    decided, by key: what is otherwise by now is skipped. Raises BadValue without a site, or with
    one that is not ``within``.
    """
    if not sites:
        raise BadValue("the sites", "are none", "choose at least one")
    if outside := [site.code for site in sites if site not in within]:
        raise BadValue(f"site {outside[0]}", "is not in view", "choose among the sites in view")
    rows = locked(requests)
    judged = judge_sites(requests=rows, today=today, how=how, sites=sites, within=within)
    outcome = sorted_out(rows, {key: verdict for key, (verdict, _) in judged.items()}, seen)
    then = {row.pk: judged[row.pk][1] for row in outcome.done}
    for part in parts(outcome.done):
        keys = [row.pk for row in part]
        there = RequestSite.objects.filter(request__in=keys)
        have = {
            (request, site): key
            for key, request, site in there.values_list("pk", "request_id", "site_id")
        }
        wanted = {(key, site) for key in keys for site in then[key]}
        RequestSite.objects.filter(pk__in=[have[pair] for pair in have.keys() - wanted]).delete()
        add(part, sorted(wanted - have.keys()))
    return outcome


def add(requests: Collection[Request], pairs: list[tuple[int, int]]) -> None:
    """Let requests go to sites, pairs of keys, with the travel there (0 where unknown)."""
    people = dict(
        Subject.objects.filter(pk__in={row.subject_id for row in requests})
        .exclude(home_area=None)
        .values_list("pk", "home_area_id")
    )
    subjects = {row.pk: row.subject_id for row in requests}
    areas = HomeArea.objects.in_bulk(list(set(people.values())))
    sites = Site.objects.in_bulk(list({site for _, site in pairs}))
    known = TravelTime.objects.filter(area__in=list(areas), site__in=list(sites))
    given = {(row.area_id, row.site_id): row.minutes for row in known}

    def travel(request: int, site: int) -> int:
        area = areas.get(people.get(subjects[request], 0))
        if area is None:
            return 0
        return travel_minutes(area=area, site=sites[site], given=given) or 0

    RequestSite.objects.bulk_create(
        RequestSite(request_id=request, site_id=site, travel=travel(request, site))
        for request, site in pairs
    )
