"""Words that are nowhere else, written wherever somebody types, and what may never hold them."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Iterator
from contextlib import contextmanager

from django.apps import apps
from django.db import models

from sites.audit.sources import described, is_loud
from sites.logs import Lines
from sites.models import AuditEntry

MARK = "planted"
KEPT = {
    *("reference", "control_number", "code", "username", "password", "timezone", "what"),
    *("first_number", "second_number"),
    *("holiday_country", "holiday_subdivision", "edition", "algorithm_version"),
}
"""What pages go by: references, codes; and what would end the walk if it were changed."""
MADE = {"programmeversion", "intake", "intakeblock"}
"""Rows whose texts a program reads: rules, and a list as sealed JSON, which nobody types."""


def typed() -> Iterator[tuple[type[models.Model], models.Field]]:  # type: ignore[type-arg]
    """Every column of the record that holds text which somebody types, names and contact too."""
    for model in apps.get_app_config("record").get_models():
        if not model._meta.managed:
            continue
        for field in model._meta.concrete_fields:
            text = isinstance(field, models.CharField | models.TextField)
            codes = field.name in KEPT or field.name.endswith(("_key", "_digest"))
            if text and not is_loud(field) and not codes and not field.choices:
                yield model, field


def plant() -> int:
    """Write the mark into all of them, row by row as services and forms do; how many there were."""
    count = 0
    for model, field in typed():
        room = field.max_length or 100
        for row in model._default_manager.all():
            if room >= len(MARK) and described(model).noun not in MADE:
                setattr(row, field.name, f"{MARK}{count}"[:room])
                row.save(update_fields=[field.name])
                count += 1
    return count


@contextmanager
def listening() -> Iterator[io.StringIO]:
    """Everything that is logged meanwhile, down to the least."""
    text = io.StringIO()
    handler = logging.StreamHandler(text)
    handler.setFormatter(Lines("%(levelname)s %(name)s %(message)s %(request_id)s %(actor)s"))
    names = ("", "planner", "planner.web.trace", "sites", "django", "django.request")
    levels = {name: logging.getLogger(name).level for name in names}
    for name in names:
        logging.getLogger(name).setLevel(logging.INFO)
    logging.getLogger().addHandler(handler)
    try:
        yield text
    finally:
        logging.getLogger().removeHandler(handler)
        for name, level in levels.items():
            logging.getLogger(name).setLevel(level)


def traces(logged: io.StringIO, addresses: set[str]) -> list[str]:
    """Where the mark is though it never may be: addresses, the log, entries of the audit."""
    entries = AuditEntry.objects.values_list("noun", "what", "changes", "actor", "request")
    found = [address for address in addresses if MARK in address.lower()]
    found += [line for line in logged.getvalue().splitlines() if MARK in line.lower()]
    return found + [f"{entry}" for entry in entries if MARK in json.dumps(entry).lower()]
