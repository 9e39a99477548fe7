"""Every address of the server, with its view."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

from sites.access import RULES


def routes(resolver: URLResolver | None = None, before: str = "") -> Iterator[tuple[str, Any]]:
    """(route, view) of all addresses but those of the admin, which has a door of its own."""
    for each in (resolver or get_resolver("planner.urls")).url_patterns:
        route = before + str(each.pattern)
        if isinstance(each, URLPattern):
            yield route, each.callback
        elif each.app_name != "admin":
            yield from routes(each, route)


def rule_of(view: Callable[..., Any]) -> str | None:
    """The rule that a view names, on itself or on its class; None for a public one."""
    if getattr(view, "public", ""):
        return None
    kind = getattr(view, "view_class", None) or getattr(view, "cls", None) or view
    return str(getattr(kind, "rule", ""))


def faults() -> list[str]:
    """Addresses whose view names no rule of the table."""
    return [
        f"{route}: rule {rule_of(view)!r} is not in sites/access/table.py"
        for route, view in routes()
        if rule_of(view) is not None and rule_of(view) not in RULES
    ]


def admin_doors() -> list[object]:
    """The sites behind the admin's addresses."""
    return [
        getattr(each.url_patterns[0].callback, "admin_site", None)
        for each in get_resolver("planner.urls").url_patterns
        if isinstance(each, URLResolver) and each.app_name == "admin"
    ]
