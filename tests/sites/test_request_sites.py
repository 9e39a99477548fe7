"""The sites that requests can go to: travel, what was learnt there, and who keeps a site."""

from __future__ import annotations

from typing import Any

import pytest

from sites.errors import BadValue
from sites.models import HomeArea, RequestSite, Site, TravelTime
from sites.selectors.chosen import How, judge_sites
from sites.services.request_sites import requests_sites_change
from sites.services.waiting import waiting_join
from tests.sites.build import DAY, NOW, World, world


@pytest.fixture
def here(db: None) -> World:
    """The small world."""
    return world()


def another(code: str) -> Site:
    """A further site."""
    return Site.objects.create(code=code, name=code.title(), timezone="Europe/Vienna")


def test_travel_is_worked_out_and_what_was_learnt_stays(here: World) -> None:
    request, second, third = here.request("r"), another("site-2"), another("site-3")
    area = HomeArea.objects.create(code="hill")
    TravelTime.objects.create(area=area, site=second, minutes=35)
    request.subject.home_area = area
    request.subject.save()
    RequestSite.objects.filter(request=request).update(profile=here.profile, travel=7)
    every = [here.site, second, third]
    outcome = requests_sites_change(
        requests=[request], how=How.ADD, sites=every, within=every, today=DAY
    )
    assert [row.reference for row in outcome.done] == ["r"]
    rows = request.at_sites.values_list("site__code", "travel", "profile")
    assert sorted(rows, key=lambda row: row[0]) == [
        ("site-1", 7, here.profile.pk),
        ("site-2", 35, None),
        ("site-3", 0, None),  # nothing is known of the way
    ]


def test_sites_that_lie_outside_stay(here: World) -> None:
    request, second, outside = here.request("r"), another("site-2"), another("site-3")
    RequestSite.objects.create(request=request, site=outside)
    requests_sites_change(
        requests=[request],
        how=How.ONLY,
        sites=[second],
        within=[here.site, second],
        today=DAY,
    )
    codes = set(request.at_sites.values_list("site__code", flat=True))
    assert codes == {"site-2", "site-3"}
    for sites, words in (([], "are none"), ([outside], "is not in view")):
        with pytest.raises(BadValue, match=words):
            requests_sites_change(
                requests=[request], how=How.TAKE, sites=sites, within=[second], today=DAY
            )


def test_who_waits_for_a_time_at_a_site_keeps_it(here: World) -> None:
    request, second = here.request("r"), another("site-2")
    waiting_join(request=request, by=here.desk, site=here.site, hours_ahead=24, at=NOW)
    outcome = requests_sites_change(
        requests=[request], how=How.ONLY, sites=[second], within=[here.site, second], today=DAY
    )
    assert [why for _, why in outcome.skipped] == ["waits for a time at Site 1: change that first"]


def test_what_was_otherwise_when_it_was_looked_at_is_left_alone(here: World) -> None:
    request, second, third = here.request("r"), another("site-2"), another("site-3")
    within = [here.site, second, third]
    ask: dict[str, Any] = {"how": How.TAKE, "sites": [here.site], "within": within, "today": DAY}
    RequestSite.objects.create(request=request, site=second)
    seen = {
        key: verdict.seen for key, (verdict, _) in judge_sites(requests=[request], **ask).items()
    }
    RequestSite.objects.create(request=request, site=third)  # somebody was faster
    outcome = requests_sites_change(requests=[request], seen=seen, **ask)
    assert [why for _, why in outcome.skipped] == ["was changed by somebody else meanwhile"]
    assert request.at_sites.count() == 3
