"""The small world, with technicians on shift for two weeks."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from planner.gateway.offers.answer import Answer, Time
from planner.gateway.offers.ask import ask
from planner.gateway.offers.desk import forget
from planner.gateway.offers.narrow import Narrow
from sites.models import Request, Site
from tests.sites.build import DAY, NOW, World, world
from tests.web.lived import shifts

NEXT = DAY + timedelta(days=1)


def staffed() -> World:
    """Build it, in the current test's transaction."""
    here = world()
    shifts(here, DAY, DAY + timedelta(days=11))
    return here


@pytest.fixture
def here(db: None) -> World:
    """The small world at work."""
    forget()
    return staffed()


def asked(request: Request, *, now: datetime = NOW, top: int = 500, **narrow: Any) -> Answer:
    """The answer for a request, by somebody who covers every site."""
    sites = list(Site.objects.all())
    return ask(request, now=now, sites=sites, narrow=Narrow(**narrow), top=top)


def told(times: tuple[Time, ...]) -> list[int]:
    """What people would be told, in order of time."""
    return sorted(time.told for time in times)
