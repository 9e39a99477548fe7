"""Write an invented network: one of the named sizes, the demo, or a tiny one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.core.management.base import CommandError

from planner.engine.codec import encode_network
from planner.engine.scenario.demo import demo_network
from planner.engine.scenario.describe import describe, description_text
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES
from planner.engine.scenario.small import SMALL
from planner.gateway.files import write_whole
from planner.management.base import PlatenCommand

if TYPE_CHECKING:
    from argparse import ArgumentParser

    from planner.engine.network import Network

SEED = 1
FINER = ("requests", "sites", "days", "regions", "load", "saturated")
"""Options that only a named size has, beside the seed."""
SATURATED = 1.5
"""What ``--saturated`` multiplies the load by."""


class Command(PlatenCommand):
    """``make_network --size S|M|L|XL [--seed N] [--load X] --out FILE``, ``--demo``, ``--small``.

    The same options give the same bytes.
    """

    help = "Write an invented network and print what it holds."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare what can be asked for."""
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--size", choices=sorted(SIZES), help="a named size")
        what.add_argument("--demo", action="store_true", help="the demo scenario")
        what.add_argument("--small", choices=sorted(SMALL), help="a tiny network")
        parser.add_argument("--seed", type=int, help=f"another seed, another network ({SEED})")
        parser.add_argument("--load", type=float, help="requests over effective capacity (1.0)")
        parser.add_argument(
            "--saturated", action="store_true", help=f"multiply the load by {SATURATED}"
        )
        parser.add_argument("--requests", type=int, help="instead of the size's own number")
        parser.add_argument("--sites", type=int, help="instead of the size's own number")
        parser.add_argument("--days", type=int, help="instead of the size's own horizon")
        parser.add_argument(
            "--regions",
            type=int,
            help="parts of the map that share nothing (1)",
        )
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
    if options["small"]:
        _refuse(options, (*FINER, "seed"), "--small")
        return SMALL[options["small"]]()
    if options["demo"]:
        _refuse(options, FINER, "--demo")
        return demo_network(_or(options["seed"], SEED))
    given = {name: options[name] for name in ("requests", "sites", "days", "regions")}
    size = replace(SIZES[options["size"]], **{k: v for k, v in given.items() if v is not None})
    load = _or(options["load"], 1.0) * (SATURATED if options["saturated"] else 1.0)
    return generate(size, seed=_or(options["seed"], SEED), load=load)


def _or(value: Any, usual: Any) -> Any:
    return usual if value is None else value


def _refuse(options: dict[str, Any], names: tuple[str, ...], chosen: str) -> None:
    for name in names:
        if options[name] not in (None, False):
            raise ValueError(f"--{name}: goes with --size, not with {chosen}; leave it out")
