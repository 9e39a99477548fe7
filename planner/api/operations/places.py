"""Reading what exists: sites, stations, scanners, technicians, programmes, kinds of session."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch, QuerySet

from planner.api.filters import Filters, Named, Yes
from planner.api.find import one
from planner.api.operation import Listing, Read
from planner.api.pages import Orders
from planner.api.shapes import places as shapes
from sites.access import scanners_visible, sites_visible, stations_visible, technicians_visible
from sites.models import Profile, Programme, ScannerPlacement, User

BY_CODE: Orders = {"code": ("code",), "-code": ("-code",)}


class SitesList(Listing):
    """The sites in your view."""

    rule, tag, gives, orders = "days.see", "places", shapes.SiteShape, BY_CODE

    def rows(self, user: User) -> QuerySet[Any]:
        """Sites."""
        return sites_visible(user)


class SiteRead(Read):
    """A site."""

    rule, tag, gives = "days.see", "places", shapes.SiteShape

    def find(self, user: User, **path: Any) -> Any:
        """By its code."""
        return one(sites_visible(user), "site", code=path["site"])


def stations(user: User) -> QuerySet[Any]:
    """Stations with what is shown of them."""
    return stations_visible(user).select_related("site").prefetch_related("features")


class StationFilters(Filters):
    """Stations by place."""

    site = Named(field_name="site__code", label="Code of the site.")
    in_use = Yes(label="Whether it is used at all.")


class StationsList(Listing):
    """The stations of the sites in your view."""

    rule, tag, gives, orders = "days.see", "places", shapes.StationShape, BY_CODE
    filters = StationFilters

    def rows(self, user: User) -> QuerySet[Any]:
        """Stations."""
        return stations(user)


class StationRead(Read):
    """A station."""

    rule, tag, gives = "days.see", "places", shapes.StationShape

    def find(self, user: User, **path: Any) -> Any:
        """By its code."""
        return one(stations(user), "station", code=path["station"])


def scanners(user: User) -> QuerySet[Any]:
    """Scanners with what is shown of them."""
    placed = ScannerPlacement.objects.select_related("station")
    return scanners_visible(user).prefetch_related(Prefetch("placements", placed))


class ScannersList(Listing):
    """The scanners that stand or stood at the sites in your view."""

    rule, tag, gives, orders = "care.see", "places", shapes.ScannerShape, BY_CODE

    def rows(self, user: User) -> QuerySet[Any]:
        """Scanners."""
        return scanners(user)


class ScannerRead(Read):
    """A scanner."""

    rule, tag, gives = "care.see", "places", shapes.ScannerShape

    def find(self, user: User, **path: Any) -> Any:
        """By its code."""
        return one(scanners(user), "scanner", code=path["scanner"])


def technicians(user: User) -> QuerySet[Any]:
    """Technicians with what is shown of them."""
    rows = technicians_visible(user).select_related("home")
    return rows.prefetch_related("skills", "certifications")


class TechnicianFilters(Filters):
    """Technicians by home."""

    home = Named(field_name="home__code", label="Code of the home site.")


class TechniciansList(Listing):
    """The technicians of the sites in your view."""

    rule, tag, gives, orders = "roster.see", "places", shapes.TechnicianShape, BY_CODE
    filters = TechnicianFilters

    def rows(self, user: User) -> QuerySet[Any]:
        """Technicians."""
        return technicians(user)


class TechnicianRead(Read):
    """A technician."""

    rule, tag, gives = "roster.see", "places", shapes.TechnicianShape

    def find(self, user: User, **path: Any) -> Any:
        """By their code."""
        return one(technicians(user), "technician", code=path["technician"])


class ProgrammesList(Listing):
    """The programmes, with their parameters by date.

    The parameters are defaults of ours or common practice until the programme's policy is put in;
    that policy comes first.
    """

    rule, tag, gives, orders = "requests.see", "programmes", shapes.ProgrammeShape, BY_CODE

    def rows(self, user: User) -> QuerySet[Any]:
        """Programmes."""
        return Programme.objects.prefetch_related("versions")


class ProgrammeRead(Read):
    """A programme."""

    rule, tag, gives = "requests.see", "programmes", shapes.ProgrammeShape

    def find(self, user: User, **path: Any) -> Any:
        """By its code."""
        rows = Programme.objects.prefetch_related("versions")
        return one(rows, "programme", code=path["programme"])


class ProfilesList(Listing):
    """The kinds of session, with the captures that they consist of."""

    rule, tag, gives, orders = "requests.see", "programmes", shapes.ProfileShape, BY_CODE

    def rows(self, user: User) -> QuerySet[Any]:
        """Profiles."""
        return Profile.objects.prefetch_related("captures", "skills")


class ProfileRead(Read):
    """A kind of session."""

    rule, tag, gives = "requests.see", "programmes", shapes.ProfileShape

    def find(self, user: User, **path: Any) -> Any:
        """By its code."""
        rows = Profile.objects.prefetch_related("captures", "skills")
        return one(rows, "kind of session", code=path["profile"])
