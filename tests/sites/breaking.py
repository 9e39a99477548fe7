"""Ways to break a constraint: change the newest row of a model, or write it a second time."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db import models

from tests.sites.build import World

Break = Callable[[World], Any]


def changed(model: type[models.Model], **values: Any) -> Break:
    """Write values into the newest row of a model."""

    def run(here: World) -> None:
        row = model._default_manager.order_by("-pk").first()
        assert row is not None, model
        assert model._default_manager.filter(pk=row.pk).update(**values) == 1

    return run


def doubled(model: type[models.Model], **values: Any) -> Break:
    """Write the newest row of a model a second time, with these values different."""

    def run(here: World) -> None:
        row = model._default_manager.order_by("-pk").first()
        assert row is not None, model
        row.pk = None
        row._state.adding = True
        for name, value in values.items():
            setattr(row, name, value)
        row.save(force_insert=True)

    return run
