"""The table of rules and the rows that somebody sees, asked without a page."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from pytest_django import DjangoAssertNumQueries

from sites import access
from sites.access import RULES, Refused, ensure, may, people_shown, person_shown
from sites.models import Request, RequestSite, Role, Site, Station, Subject, User
from tests.sites.build import DAY, NOW, SCOPED, World

VISIBLE = {name: getattr(access, name) for name in access.__all__ if name.endswith("_visible")}
QUERYSETS = {name: one for name, one in VISIBLE.items() if name != "days_visible"}


@pytest.fixture
def other(here: World) -> dict[str, User]:
    """A second site with a coordinator, a site lead and a technician."""
    site = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    people = {role.value: User.objects.create(username=f"{role}-2", role=role) for role in SCOPED}
    for user in people.values():
        user.covers.add(site)
    return people


@pytest.fixture
def lived(here: World) -> World:
    """A request with a session, and one without."""
    here.session(here.request("r-1"))
    here.request("r-2")
    return here


def test_an_auditor_changes_nothing_but_the_own_login() -> None:
    """Reading is ``noun.see``: everything else changes something."""
    auditor = User(username="a", role=Role.AUDITOR)
    changes = [name for name in RULES if not name.endswith(".see")]
    assert len(changes) > 10
    found = {name for name in changes if may(auditor, name) and name != "people.find"}
    assert found == {"own.change"}
    assert not may(auditor, "people.find")


def test_an_administrator_may_everything_and_nobody_nothing() -> None:
    chief = User(username="x", role=Role.ADMINISTRATOR)
    gone = User(username="g", role=Role.ADMINISTRATOR, is_active=False)
    for name in RULES:
        assert may(chief, name)
        for nobody in (None, AnonymousUser(), gone):
            assert not may(nobody, name), name


def test_a_refusal_says_who_may_and_a_misspelt_rule_opens_nothing() -> None:
    with pytest.raises(Refused, match=r"^Taking requests in is for a coordinator or an admin.+\.$"):
        ensure(User(username="m", role=Role.MANAGER), "intake.change")
    with pytest.raises(KeyError, match="no such rule"):
        may(User(username="x", role=Role.ADMINISTRATOR), "intake.chnage")


def test_a_role_holds_at_its_sites(here: World, other: dict[str, User]) -> None:
    assert may(here.desk, "care.change", here.site)
    assert not may(other[Role.COORDINATOR], "care.change", here.site)
    assert may(other[Role.COORDINATOR], "care.change")
    assert may(here.users[Role.MANAGER], "care.change", here.site)
    assert not may(here.users[Role.AUDITOR], "care.change", here.site)


@pytest.mark.parametrize("name", QUERYSETS)
def test_nobody_and_a_stranger_see_no_row(lived: World, other: dict[str, User], name: str) -> None:
    nouns = {each.removesuffix("_visible") for each in QUERYSETS}
    assert {"requests", "subjects", "sessions", "responses", "technicians"} <= nouns
    gone = User.objects.create(username="gone", role=Role.MANAGER, is_active=False)
    for who in (AnonymousUser(), gone):
        assert not QUERYSETS[name](who).exists()
    lost = User.objects.create(username="lost", role=Role.SITE_LEAD)
    for who in (*other.values(), lost):
        rows = QUERYSETS[name](who)
        seen = [row for row in rows if getattr(row, "code", "") != "site-2"]
        assert seen == [], who


@pytest.mark.parametrize(
    "name",
    [name for name in QUERYSETS if name not in {"plan_runs_visible", "absences_visible"}],
)
def test_whoever_sees_all_sites_sees_all_rows_and_a_site_its_own(
    lived: World, other: dict[str, User], name: str
) -> None:
    everything = set(QUERYSETS[name](lived.users[Role.ADMINISTRATOR]))
    for role in (Role.MANAGER, Role.AUDITOR):
        assert set(QUERYSETS[name](lived.users[role])) == everything
    at_site = {row for row in everything if getattr(row, "code", "") != "site-2"}
    for role in (Role.COORDINATOR, Role.SITE_LEAD):
        assert set(QUERYSETS[name](lived.users[role])) == at_site


def test_a_technician_sees_own_days(lived: World) -> None:
    """t-1 has the login; both have a shift on `DAY`, and only t-2 one on the day after."""
    booked = lived.book(lived.request("r-3"), 700, technician=lived.technicians[1])
    seen = access.appointments_visible(lived.taker)
    assert booked in seen
    assert {row.reference for row in access.requests_visible(lived.taker)} == {"r-1", "r-3"}
    assert [row.code for row in access.technicians_visible(lived.taker)] == ["t-1"]
    days = access.days_visible(
        lived.taker, sites=[lived.site], first=DAY, last=DAY + timedelta(days=9)
    )
    assert days == {(lived.site.pk, DAY)}
    lead = lived.users[Role.SITE_LEAD]
    assert access.days_visible(lead, sites=[lived.site], first=DAY, last=DAY) is None
    lived.technicians[0].shifts.all().delete()
    assert booked not in access.appointments_visible(lived.taker)


def test_a_request_of_two_sites_is_seen_by_both(here: World, other: dict[str, User]) -> None:
    both = here.request("r-both")
    RequestSite.objects.create(request=both, site=Site.objects.get(code="site-2"))
    mine = here.request("r-mine")
    there = access.requests_visible(other[Role.COORDINATOR])
    assert list(there) == [both]
    assert list(access.requests_visible(here.desk).order_by("reference")) == [both, mine]
    assert access.subjects_visible(other[Role.COORDINATOR]).count() == 1


def test_a_request_without_a_site_is_for_who_sees_everywhere(here: World) -> None:
    alone = here.request("alone", sites=[])
    assert alone not in access.requests_visible(here.desk)
    assert alone in access.requests_visible(here.users[Role.MANAGER])


def test_two_queries_show_people_however_many(
    here: World, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for number in range(6):
        person = Subject.objects.create(reference=f"p-{number}", family_name=f"Name {number}")
        here.book(here.request(f"r-{number}", subject=person), 540 + 30 * number)
    rows = list(Request.objects.select_related("subject"))
    with django_assert_num_queries(1):
        names = people_shown(user=here.desk, requests=rows, now=NOW)
    assert {each.name for each in names.values()} == {f"Name {n}" for n in range(6)}
    with django_assert_num_queries(1):
        named = people_shown(user=here.taker, requests=rows, now=NOW)
    assert all(each.name and not each.reachable for each in named.values())
    tomorrow = people_shown(user=here.taker, requests=rows, now=NOW + timedelta(days=1))
    assert not any(each.name for each in tomorrow.values())


def test_a_coordinator_of_another_site_is_shown_nothing(
    here: World, other: dict[str, User]
) -> None:
    person = Subject.objects.create(reference="p", family_name="Name", phone="1", needs_access=True)
    request = here.request("r", subject=person)
    for user in (other[Role.COORDINATOR], here.users[Role.MANAGER], here.users[Role.AUDITOR]):
        shown = person_shown(user=user, request=request, now=NOW)
        assert (shown.name, shown.phone, shown.reachable) == ("", "", False)
        assert shown.why
    assert person_shown(user=here.users[Role.MANAGER], request=request, now=NOW).needs == ()
    assert person_shown(user=here.desk, request=request, now=NOW).needs == ("accessible station",)


@pytest.mark.django_db
def test_a_login_that_loses_the_role_loses_the_flags() -> None:
    user = User.objects.create_superuser("chief")
    assert (user.role, user.is_staff, user.is_superuser) == (Role.ADMINISTRATOR, True, True)
    user.role = Role.COORDINATOR
    user.save(update_fields=["role"])
    user.refresh_from_db()
    assert (user.is_staff, user.is_superuser) == (False, False)


@pytest.mark.django_db(transaction=True)
def test_an_upgrade_writes_out_what_logins_could_see() -> None:
    """Before, no site meant all of them; nobody loses sight of their work, and nothing is lost."""
    call_command("migrate", "record", "0003_background_runs", verbosity=0)
    loader = MigrationExecutor(connection).loader
    old = loader.project_state([("record", "0003_background_runs")]).apps
    try:
        sites = [
            old.get_model("record", "Site").objects.create(code=f"s-{n}", name="S", timezone="UTC")
            for n in (1, 2)
        ]
        make: Any = old.get_model("record", "User").objects.create
        make(username="open", role="coordinator")
        make(username="one", role="site_lead").covers.add(sites[0])
        make(username="all", role="manager")
        make(username="root", role="manager", is_superuser=True)
    finally:
        call_command("migrate", verbosity=0)
    found = {user.username: user for user in User.objects.all()}
    covers = {name: {site.code for site in user.covers.all()} for name, user in found.items()}
    assert covers == {"open": {"s-1", "s-2"}, "one": {"s-1"}, "all": set(), "root": set()}
    assert (found["root"].role, found["all"].role) == (Role.ADMINISTRATOR, Role.MANAGER)
    new = User.objects.create(username="new", role=Role.COORDINATOR)
    assert not access.sites_visible(new).exists()
    call_command("migrate", "record", "0003_background_runs", verbosity=0)
    call_command("migrate", verbosity=0)
    assert User.objects.get(username="one").covers.count() == 1


def test_a_site_is_named_twice_and_seen_once(here: World) -> None:
    """A technician covers a site and has many shifts there: the site is one row."""
    assert list(access.sites_visible(here.taker)) == [here.site]
    assert access.stations_visible(here.taker).count() == Station.objects.count()
