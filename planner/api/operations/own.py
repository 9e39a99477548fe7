"""One's own sign-in and tokens, and what problems mean."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import Http404
from rest_framework.response import Response

from planner.api.find import one
from planner.api.kinds import KINDS
from planner.api.operation import Act, Listing, Operation, Read
from planner.api.pages import Orders
from planner.api.problems import Refused
from planner.api.shapes import own as shapes
from planner.api.shapes.problem import KindShape
from sites.access import RULES, may, sites_visible
from sites.models import ApiToken, User
from sites.selectors.api_tokens import api_tokens
from sites.services.api_tokens import api_token_make, api_token_revoke


class OwnRead(Read):
    """Who is signed in, with which sites in view, and what they may do."""

    rule, tag, gives = "frame.see", "own", shapes.OwnShape

    def find(self, user: User, **path: Any) -> Any:
        """Yourself."""
        return {
            "login": user.get_username(),
            "role": user.role,
            "sites": list(sites_visible(user).values_list("code", flat=True)),
            "may": [name for name in RULES if may(user, name)],
        }


class TokensList(Listing):
    """Your tokens, also those that are over."""

    rule, tag, gives = "own.change", "own", shapes.TokenShape
    orders: ClassVar[Orders] = {"made": ("made_at", "pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Tokens."""
        return api_tokens(owner=user)


class TokenMake(Act):
    """Make a token for a program; only from a session, a token makes no others.

    The secret is shown this once and kept nowhere: where the answer is lost, revoke the token and
    make another one.
    """

    rule, tag, takes, gives = "own.change", "own", shapes.TokenIn, shapes.TokenMadeShape
    replays = False

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Make it."""
        if isinstance(self.request.auth, ApiToken):
            raise Refused("not_allowed", "A token makes no tokens: sign in to the pages for it.")
        token, secret = api_token_make(
            owner=self.request.user,
            name=values["name"],
            days=values["days"],
            reads_only=values.get("reads_only", False),
        )
        return {"token": token, "secret": secret}

    def finalize_response(self, *args: Any, **kwargs: Any) -> Any:
        """No cache keeps a secret."""
        response = super().finalize_response(*args, **kwargs)
        response["Cache-Control"] = "no-store"
        return response


class TokenRevoke(Operation):
    """End one of your tokens now.

    Needs no If-Match and can be sent again: a token that has leaked has to be ended at once.
    """

    method, rate, status = "DELETE", "write", 204
    rule, tag = "own.change", "own"

    def delete(self, request: Any, **path: Any) -> Response:
        """Revoke it; 204 also where that was done before."""
        token = one(api_tokens(owner=request.user), "token", code=path["token"])
        if token.revoked_at is None:
            api_token_revoke(token=token)
        return Response(status=204)


class ProblemsRead(Read):
    """What a kind of problem means, and what to do about it."""

    rule, tag, gives = "frame.see", "own", KindShape

    def find(self, user: User, **path: Any) -> Any:
        """By its name, with which the type of a problem ends."""
        known = KINDS.get(path["kind"])
        if known is None:
            raise Http404(f"There is no kind of problem {path['kind']}.")
        return {
            "kind": path["kind"],
            "status": known.status,
            "title": known.title,
            "remedy": known.remedy,
        }
