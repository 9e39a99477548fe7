"""What a plan found is kept with it: prices of its days, and why requests were left out."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from planner.engine.booking import Options, plan
from planner.engine.network import Network
from planner.engine.plan import Plan, Price
from planner.gateway.record import read, write
from planner.gateway.record.findings import find_prices
from planner.gateway.record.horizon import Horizon
from sites.models import Feature, LeftOut, SitePrice
from tests.sites.build import DAY, World


def planned(here: World) -> tuple[Network, Plan]:
    """One request that can be booked, and one that asks for what no station has."""
    here.request("able")
    here.request("unable").features.add(Feature.objects.create(code="low-counter"))
    network = read(first_day=DAY, days=1)
    return network, plan(network, Options(effort=1))


def test_why_a_request_was_left_out_is_kept_with_the_remedy(here: World) -> None:
    network, made = planned(here)
    said = made.unbooked[0].reasons[0]
    run = write(network, made).run
    row = LeftOut.objects.get()
    assert (row.request.reference, row.run) == ("unable", run)
    assert (row.code, row.detail, row.remedy) == (said.code, said.detail, said.remedy)


def test_a_run_that_books_it_takes_the_reason_away(here: World) -> None:
    write(*planned(here))
    Feature.objects.get().stations.set(here.stations)
    network = read(first_day=DAY, days=1)
    write(network, plan(network, Options(effort=1)))
    assert not LeftOut.objects.exists()


def test_prices_come_back_as_they_were_and_the_last_run_counts(here: World) -> None:
    network, made = planned(here)
    price = Price("site-1", 0, "am", 0.25, 0.5, (("worn", 0.125),), (("low-counter", 2.0),))
    write(network, replace(made, prices=(price,)))
    assert find_prices(Horizon(DAY, 1)) == (price,)
    assert find_prices(Horizon(DAY + timedelta(days=1), 5)) == ()
    dearer = replace(price, station_minute=0.75)
    write(network, replace(made, prices=(dearer,)))
    assert find_prices(Horizon(DAY, 1)) == (dearer,)
    assert SitePrice.objects.count() == 1


def test_a_zero_a_hair_below_zero_does_not_stop_a_plan(here: World) -> None:
    network, made = planned(here)
    write(network, replace(made, prices=(Price("site-1", 0, "am", -1e-15, 0.5),)))
    assert SitePrice.objects.get().station_minute == pytest.approx(0, abs=0)
