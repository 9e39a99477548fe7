"""Rows of sites, what stands there, and figures."""

from __future__ import annotations

from tests.api.operations.row import ABROAD, OFFICE, Row, get
from tests.sites.build import DAY

ROWS: dict[str, Row] = {
    "sites_list": get("sites/"),
    "site_read": get("sites/{site}/", abroad=ABROAD, parts={"site": "site-1"}),
    "day_read": get(
        "sites/{site}/days/{day}/", abroad=ABROAD, parts={"site": "site-1", "day": f"{DAY}"}
    ),
    "stations_list": get("stations/", query={"site": "site-1", "in_use": "true"}),
    "station_read": get("stations/{station}/", abroad=ABROAD, parts={"station": "st-1"}),
    "scanners_list": get("scanners/"),
    "scanner_read": get("scanners/{scanner}/", abroad=ABROAD, parts={"scanner": "sc-st-1"}),
    "technicians_list": get("technicians/", query={"home": "site-1"}),
    "technician_read": get("technicians/{technician}/", abroad=ABROAD, parts={"technician": "t-1"}),
    "programmes_list": get("programmes/"),
    "programme_read": get("programmes/{programme}/", parts={"programme": "p-one"}),
    "profiles_list": get("profiles/"),
    "profile_read": get("profiles/{profile}/", parts={"profile": "full"}),
    "figures_read": get("figures/", OFFICE, query={"days": "30"}),
    "outlook_read": get("outlook/", OFFICE),
}
