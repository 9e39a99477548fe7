"""``manage.py api_token``: make, list and revoke tokens of the API."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from planner.management.base import PlatenCommand
from sites.errors import RecordError
from sites.models import ApiToken, User
from sites.selectors.api_tokens import api_tokens
from sites.services.api_tokens import LONGEST_DAYS, api_token_make, api_token_revoke

DAYS = 90


class Command(PlatenCommand):
    """Tokens for programs; a secret is printed once and kept nowhere."""

    help = "Makes, lists and revokes tokens of the API"

    def add_arguments(self, parser: ArgumentParser) -> None:
        """One of three things to do."""
        what = parser.add_subparsers(dest="what", required=True)
        make = what.add_parser("make", help="makes a token and prints its secret, once")
        make.add_argument("login", help="whose token; it may do what they may")
        make.add_argument("--name", required=True, help="which program it is for")
        make.add_argument(
            "--days",
            type=int,
            default=DAYS,
            help=f"until it expires (default {DAYS}, at most {LONGEST_DAYS})",
        )
        make.add_argument("--reads-only", action="store_true", help="it may change nothing")
        shown = what.add_parser("list", help="lists the tokens of a login")
        shown.add_argument("login")
        revoke = what.add_parser("revoke", help="ends a token now")
        revoke.add_argument("code", help="its code, as listed")

    def run(self, **options: Any) -> int:
        """Do it; 2 where it makes no sense."""
        try:
            return int(getattr(self, options["what"])(options))
        except RecordError as error:
            self.stderr.write(str(error))
            return 2

    def make(self, options: dict[str, Any]) -> int:
        """The secret on stdout, everything else beside it."""
        owner = self.login(options["login"])
        if owner is None:
            return 2
        token, secret = api_token_make(
            owner=owner,
            name=options["name"],
            days=options["days"],
            reads_only=options["reads_only"],
        )
        self.say(f"{token.code} for {owner}, until {token.expires_at:%Y-%m-%d %H:%M} UTC; keep it:")
        self.stdout.write(secret)
        return 0

    def list(self, options: dict[str, Any]) -> int:
        """A line a token."""
        owner = self.login(options["login"])
        if owner is None:
            return 2
        for token in api_tokens(owner=owner):
            over = "revoked" if token.revoked_at else f"until {token.expires_at:%Y-%m-%d}"
            seen = f"used {token.seen_at:%Y-%m-%d}" if token.seen_at else "never used"
            reads = ", reads only" if token.reads_only else ""
            self.stdout.write(f"{token.code}  {over}  {seen}{reads}  {token.name}")
        return 0

    def revoke(self, options: dict[str, Any]) -> int:
        """End it; a second time is an error that says so."""
        token = ApiToken.objects.filter(code=options["code"]).first()
        if token is None:
            self.stderr.write(f"{options['code']}: no such token; see api_token list LOGIN")
            return 2
        api_token_revoke(token=token)
        self.stdout.write(f"{token.code} is revoked")
        return 0

    def login(self, name: str) -> User | None:
        """Whose it is."""
        owner = User.objects.filter(username=name, is_active=True).first()
        if owner is None:
            self.stderr.write(f"{name}: no such login; make one in Set-up first")
        return owner
