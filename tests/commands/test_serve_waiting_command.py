"""``manage.py serve_waiting``: who is next is told, once; a site that is none is refused."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command

from sites.models import Site
from sites.services.waiting import waiting_join
from tests.gateway.offers.conftest import staffed
from tests.sites.build import NOW

pytestmark = pytest.mark.django_db


def run(*words: str) -> tuple[object, str, str]:
    """Exit code, what was printed, what went to stderr."""
    out, err = StringIO(), StringIO()
    code: object = 0
    try:
        call_command("serve_waiting", *words, stdout=out, stderr=err)
    except SystemExit as end:
        code = end.code
    return code, out.getvalue(), err.getvalue()


def test_who_is_next_is_told_once(settings: Any) -> None:
    settings.NOW = NOW
    here = staffed()
    waiting_join(
        request=here.request("r"), by=here.desk, hours_ahead=24, at=NOW - timedelta(hours=1)
    )
    code, out, _ = run()
    assert code == 0
    assert "it is put to r, next on the waiting list: Tue 3 Mar 2026" in out
    assert "1 served now, 1 on the waiting list" in out
    assert run("--site", "site-1")[1] == "0 served now, 1 on the waiting list\n"


def test_a_site_that_is_none_is_refused(db: None) -> None:
    code, _, err = run("--site", "nowhere")
    assert code == 2
    assert "'nowhere' is no site; name a site's code" in err


def test_a_site_whose_holidays_nobody_knows_is_named(settings: Any) -> None:
    settings.NOW = NOW
    staffed()
    Site.objects.update(holiday_country="XX")
    code, out, err = run()
    assert (code, out) == (2, "")
    assert err.startswith("public holidays of site site-1: 'XX' is no country")
