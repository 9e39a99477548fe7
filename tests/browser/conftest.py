"""Chromium of the system against a live server with a site at work; never skipped."""

from __future__ import annotations

import os
import shutil
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page
from pytest_django.live_server_helper import LiveServer

from tests.sites.build import World
from tests.web.lived import NOW, lived

os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")  # Playwright keeps a loop of its own
PASSWORD = "of-no-value"  # noqa: S105 - a login of this test only


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    """The system's Chromium, without a sandbox: it may run as root here."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    assert path, "Chromium is missing: install the package chromium"
    return {"executable_path": path, "args": ["--no-sandbox"]}


@pytest.fixture
def here(transactional_db: None, settings: Any) -> World:
    """A site at work, and a clock that stands still."""
    settings.NOW = NOW
    found = lived()
    for user in found.users.values():
        user.set_password(PASSWORD)
        user.save()
    return found


@pytest.fixture
def signed_in(here: World, live_server: LiveServer, browser: Browser) -> Any:
    """A function that opens a signed-in page: colour scheme, width, role."""
    contexts: list[BrowserContext] = []

    def open_page(scheme: Any = "light", width: int = 1280, role: str = "coordinator") -> Page:
        context = browser.new_context(
            color_scheme=scheme,
            viewport={"width": width, "height": 900},
            base_url=live_server.url,
        )
        contexts.append(context)
        page = context.new_page()
        page.goto("/sign-in/")
        page.get_by_label("Name").fill(role)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "sign-in" not in url)
        return page

    yield open_page
    for context in contexts:
        context.close()
