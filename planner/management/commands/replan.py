"""``manage.py replan NETWORK PLAN --out PLAN2 --network-out NETWORK2``: the least change."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from planner.engine.booking.replan import Events, Outage, check_events, replan
from planner.engine.codec import decode_requests, encode_network, encode_plan
from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Network, Request
from planner.engine.units import parse_minute
from planner.gateway.export import refuse_unwritable
from planner.gateway.files import read_bytes, read_network, read_plan, write_whole
from planner.gateway.replan_text import replan_lines
from planner.management.base import PlatenCommand
from planner.management.commands.plan import seed

OUTAGES = (
    ("down", "STATION", "this station takes nobody from FROM to TO"),
    ("absent", "TECHNICIAN", "this technician is not there from FROM to TO"),
    ("closed", "SITE", "this site is closed from FROM to TO"),
)


class Command(PlatenCommand):
    """Exit 0 with a plan, 2 for what is refused, 3 where a fixed appointment lost what it needs."""

    help = (
        "Change a plan by the least that answers to what happened. FROM and TO are "
        "YYYY-MM-DDTHH:MM on the site's own clock, TO not included. Each of --down, --absent, "
        "--closed, --add and --cancel may be given several times; at least one is needed. NETWORK "
        "and PLAN stay as they are."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """The files and the events."""
        parser.add_argument("network", metavar="NETWORK", type=Path, help="the network file")
        parser.add_argument("plan", metavar="PLAN", type=Path, help="the plan made for it")
        parser.add_argument(
            "--out", metavar="PLAN2", type=Path, required=True, help="the plan file to write"
        )
        parser.add_argument(
            "--network-out", metavar="NETWORK2", type=Path, required=True,
            help="the network file to write: events applied, bookings of PLAN as appointments",
        )  # fmt: skip
        for name, thing, words in OUTAGES:
            parser.add_argument(
                f"--{name}", metavar=(thing, "FROM", "TO"), nargs=3, action="append", default=[],
                help=words,
            )  # fmt: skip
        parser.add_argument(
            "--add", metavar="FILE", type=Path, action="append", default=[],
            help="requests that came in: a JSON list, written as in the network's `requests`",
        )  # fmt: skip
        parser.add_argument(
            "--cancel",
            metavar="REQUEST",
            action="append",
            default=[],
            help="this request is no longer wanted, whether it is booked or waits",
        )
        parser.add_argument(
            "--seed",
            metavar="N",
            type=seed,
            default=0,
            help="of all draws: same seed, same plan (0)",
        )
        parser.add_argument("--quiet", action="store_true", help="print nothing but faults")

    def run(self, **options: Any) -> int:
        """Read, re-plan, write both files, tell."""
        inputs = (options["network"], options["plan"], *options["add"])
        out, network_out = options["out"], options["network_out"]
        network = read_network(options["network"])
        plan = read_plan(options["plan"], network)
        refuse_unwritable(out, *inputs, network_out)
        refuse_unwritable(network_out, *inputs)
        made = replan(network, plan, _events(network, options), seed=options["seed"])
        write_whole(network_out, encode_network(made.network))
        write_whole(out, encode_plan(made.plan, made.network))
        if not options["quiet"]:
            files = ["", f"network     {network_out}", f"plan        {out}"]
            booked = {item.request for item in plan.bookings}
            waited = [name for name in dict.fromkeys(options["cancel"]) if name not in booked]
            cancelled = len(set(options["cancel"]))
            self.stdout.write("\n".join([*replan_lines(made, cancelled, waited), *files]))
        return 0


def _events(network: Network, options: dict[str, Any]) -> Events:
    """The events asked for. Raises FileRefused with every fault, in the words that were typed."""
    faults: list[Fault] = []
    outages: dict[str, tuple[Outage, ...]] = {}
    typed: dict[str, str] = {}
    for name, _, _ in OUTAGES:
        known = [_outage(network, name, words, faults) for words in options[name]]
        outages[name] = tuple(item for item in known if item is not None)
        for number, item in enumerate(outages[name]):
            typed[f"{name}[{number}]"] = f"--{name} {item.thing}"
    added: list[Request] = []
    for path in options["add"]:
        try:
            found = decode_requests(read_bytes(path), network)
        except FileRefused as error:
            faults += [_within(path, fault) for fault in error.faults]
            continue
        for number in range(len(found)):
            typed[f"add[{len(added) + number}].id"] = f"{path}: [{number}].id"
        added += found
    for number, request in enumerate(options["cancel"]):
        typed[f"cancel[{number}]"] = f"--cancel {request}"
    events = Events(**outages, added=tuple(added), cancelled=tuple(options["cancel"]))
    try:
        check_events(network, events)
    except FileRefused as error:
        faults += [
            Fault(typed.get(item.path, item.path), item.problem, item.remedy)
            for item in error.faults
        ]
    if not faults and not any((*outages.values(), options["add"], options["cancel"])):
        remedy = "name at least one of --down, --absent, --closed, --add and --cancel"
        faults.append(Fault("replan", "nothing happened", remedy))
    if faults:
        raise FileRefused(faults)
    return events


def _outage(network: Network, name: str, words: list[str], faults: list[Fault]) -> Outage | None:
    """One outage, or None where its times are none."""
    thing, *times = words
    minutes = []
    for word, text in zip(("FROM", "TO"), times, strict=True):
        try:
            minutes.append(parse_minute(text, network.first_day))
        except ValueError:
            problem = f'{word} "{text}" is no time'
            faults.append(Fault(f"--{name} {thing}", problem, "write YYYY-MM-DDTHH:MM"))
    return Outage(thing, *minutes) if len(minutes) == len(times) else None


def _within(path: Path, fault: Fault) -> Fault:
    """A fault with its file's name before its path, once."""
    place = fault.path if fault.path == str(path) else f"{path}: {fault.path}"
    return Fault(place, fault.problem, fault.remedy)
