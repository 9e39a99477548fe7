"""Conditional calls: strong entity tags of what was read, and If-Match on what is changed."""

from __future__ import annotations

import hashlib
from typing import Any

from django.utils.http import parse_etags
from rest_framework.renderers import JSONRenderer

from planner.api.problems import BadHeader, Refused


def entity_tag(data: Any) -> str:
    """A strong entity tag (RFC 9110, section 8.8.3): it changes with every byte of what is shown.

    Where a row has a ``version``, that is part of what is shown.
    """
    return f'"{hashlib.sha256(JSONRenderer().render(data)).hexdigest()[:32]}"'


def tags_of(request: Any, name: str) -> list[str] | None:
    """The tags of a header, None where it was not sent. Raises BadHeader where it holds none."""
    text = request.headers.get(name)
    if text is None:
        return None
    found = parse_etags(text)
    if not found:
        raise BadHeader({name: ['holds no entity tag: send one as it was got, as in "5f3a…".']})
    return list(found)


def is_known(request: Any, tag: str) -> bool:
    """If-None-Match, by weak comparison (RFC 9110, sections 13.1.2 and 8.8.3.2)."""
    tags = tags_of(request, "If-None-Match")
    return tags is not None and ("*" in tags or tag in {each.removeprefix("W/") for each in tags})


def require_match(request: Any) -> list[str]:
    """The tags of If-Match. Raises 428 where it is missing (RFC 6585, section 3)."""
    tags = tags_of(request, "If-Match")
    if tags is None:
        raise Refused(
            "no_precondition",
            "Changes say what they were decided on: send the ETag of what was read as If-Match.",
        )
    return tags


def match(tags: list[str], tag: str) -> None:
    """If-Match, by strong comparison (RFC 9110, section 13.1.1). Raises 412 where it is stale."""
    if "*" not in tags and tag not in tags:
        raise Refused(
            "changed",
            "It is no longer what If-Match names: read it again and decide anew.",
            headers={"ETag": tag},
        )
