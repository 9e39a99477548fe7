"""x"""
from __future__ import annotations
import pytest
from django.test import Client
from tests.sites.build import World

PAGES = ["/", "/requests/", "/requests/back-again/", "/days/", "/days/site-1/2026-03-02/", "/care/", "/care/site-1/", "/care/site-1/window/", "/care/site-1/downtime/", "/capacity/", "/capacity/outlook/", "/set-up/", "/health/", "/nope/", "/requests/?standing=zzz&page=9&sort=-due"]

@pytest.mark.parametrize("page", PAGES)
def test_opens(desk: Client, page: str) -> None:
    got = desk.get(page)
    assert got.status_code in (200, 302, 404)
