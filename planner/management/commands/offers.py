"""``manage.py offers NETWORK PLAN --request FILE|ID``: the best free times for one request."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.engine.booking.offers import OfferDesk
from planner.engine.codec import decode_requests
from planner.engine.errors import Fault, FileRefused
from planner.gateway.files import read_bytes, read_network, read_plan
from planner.gateway.offers_text import offers_lines, offers_value
from planner.management.base import PlatenCommand

if TYPE_CHECKING:
    from planner.engine.network import Network, Request

TOP = 10
LARGEST_TOP = 1000


class Command(PlatenCommand):
    """Print free times, best first; nothing is booked and the plan stays as it is."""

    help = (
        "When could one request be served best, beside a plan that stands? Prints free times, the "
        "cheapest first; where they are few, also who could give way, what the reserve holds and "
        "where a no-show is likely. Nothing is booked."
    )

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """The two files, the request, and how much to say."""
        parser.add_argument("network", type=Path, metavar="NETWORK", help="a network file")
        parser.add_argument("plan", type=Path, metavar="PLAN", help="a plan made for it")
        parser.add_argument(
            "--request",
            required=True,
            metavar="FILE|ID",
            help="an id of the network's requests, or a JSON file that holds one request",
        )
        parser.add_argument(
            "--top", type=_top, default=TOP, metavar="N", help=f"how many free times ({TOP})"
        )
        parser.add_argument("--json", action="store_true", help="print JSON, not a table")

    def run(self, **options: Any) -> int:
        """Read, ask, print."""
        network = read_network(options["network"])
        plan = read_plan(options["plan"], network)
        desk = OfferDesk(network, plan)
        found = desk.offers(_asked(desk, network, options["request"]), options["top"])
        if options["json"]:
            self.stdout.write(json.dumps(offers_value(network, found), indent=2))
        else:
            known = {item.request: item.reasons for item in plan.unbooked}
            reasons = known.get(found.request, ())
            self.stdout.write("\n".join(offers_lines(network, found, reasons)))
        return 0


def _asked(desk: OfferDesk, network: Network, text: str) -> Request:
    """The request of this id; where there is none, the one in the file of this name."""
    if any(item.id == text for item in network.requests):
        return desk.request(text)
    path = Path(text)
    if not path.exists():
        problem = f"{text!r} is no request of the network, and no such file exists"
        raise FileRefused([Fault("--request", problem, "name one of the two")])
    requests = decode_requests(read_bytes(path), network)
    if len(requests) != 1:
        problem = f"holds {len(requests)} requests"
        raise FileRefused([Fault(str(path), problem, "write the one that is asked for")])
    return requests[0]


def _top(text: str) -> int:
    known = text.isascii() and text.isdigit() and len(text) <= len(str(LARGEST_TOP))
    if not known or not 1 <= int(text) <= LARGEST_TOP:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to {LARGEST_TOP}")
    return int(text)
