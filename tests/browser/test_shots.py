"""x"""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe

PAGES = {
    "requests": "/requests/",
    "request": "/requests/back-again/",
    "days": "/days/",
    "day": "/days/site-1/2026-03-02/",
    "care": "/care/",
    "caresite": "/care/site-1/",
    "window": "/care/site-1/window/",
    "capacity": "/capacity/",
    "outlook": "/capacity/outlook/",
    "setup": "/set-up/",
    "missing": "/nope/",
}


def test_shots(signed_in: Any) -> None:
    bad = []
    for scheme in ("light", "dark"):
        for width in (1280, 390):
            page = signed_in(scheme, width)
            errs = []
            page.on("console", lambda m: errs.append(m.text) if m.type == "error" else None)
            for name, url in PAGES.items():
                page.goto(url)
                page.screenshot(path=f"/tmp/shots/{name}-{scheme}-{width}.png", full_page=True)
                w = page.evaluate("document.documentElement.scrollWidth")
                if w > width:
                    bad.append((name, width, "overflow", w))
                r = Axe().run(page)
                for v in r.response["violations"]:
                    bad.append(
                        (
                            name,
                            scheme,
                            width,
                            v["id"],
                            v["nodes"][0]["html"][:150],
                            v["nodes"][0].get("failureSummary", "")[:200],
                        )
                    )
            bad += errs
    print("\n".join(map(str, bad)))
    assert not bad
