"""Write an invented network: one of the named sizes, or the demo."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.core.management.base import CommandError

from planner.engine.codec import encode_network
from planner.engine.scenario.describe import describe, description_text
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES
from planner.gateway.files import write_whole
from planner.management.base import PlatenCommand

if TYPE_CHECKING:
    from argparse import ArgumentParser

    from planner.engine.network import Network

SATURATED = 1.5
"""What ``--saturated`` multiplies the load by."""


class Command(PlatenCommand):
    """``make_network --size S|M|L|XL [--seed N] [--load X] --out FILE``."""

    help = "Write an invented network and print what it holds."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare what can be asked for."""
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--size", choices=sorted(SIZES), help="a named size")
        what.add_argument("--demo", action="store_true", help="the demo scenario")
        parser.add_argument("--seed", type=int, default=1, help="another seed, another network")
        parser.add_argument(
            "--load", type=float, default=1.0, help="requests over effective capacity (1.0)"
        )
        parser.add_argument(
            "--saturated", action="store_true", help=f"multiply the load by {SATURATED}"
        )
        parser.add_argument("--requests", type=int, help="instead of the size's own number")
        parser.add_argument("--sites", type=int, help="instead of the size's own number")
        parser.add_argument("--days", type=int, help="instead of the size's own horizon")
        parser.add_argument("--out", type=Path, required=True, help="the file to write")

    def run(self, **options: Any) -> int:
        """Make the network, write it whole, print its description."""
        try:
            network = _made(**options)
        except ValueError as error:
            raise CommandError(str(error), returncode=2) from error
        write_whole(options["out"], encode_network(network))
        self.stdout.write(description_text(describe(network)))
        return 0


def _made(**options: Any) -> Network:
    changes = {
        name: options[name] for name in ("requests", "sites", "days") if options[name] is not None
    }
    size = replace(SIZES[options["size"]], **changes)
    load = options["load"] * (SATURATED if options["saturated"] else 1.0)
    return generate(size, seed=options["seed"], load=load)
