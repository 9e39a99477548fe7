"""What an operation is: one class, one method, with its caller, its query, body and answer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.utils.cache import patch_vary_headers
from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response
from rest_framework.views import APIView

from planner.api import replay
from planner.api.conditional import entity_tag, is_known, match, require_match
from planner.api.openapi import OperationSchema
from planner.api.pages import Orders, limit_of, page_of
from planner.api.problems import BadQuery, answer
from planner.api.reading import Form, StrictJson
from planner.api.signing_in import BySession, ByToken
from planner.api.throttles import PerPerson
from sites.access import may, rule
from sites.models import ApiToken, User
from sites.services.api_calls import api_call_drop
from sites.services.write import written


class Allowed(BasePermission):
    """Signed in, with a sign-in that may do this operation."""

    message = "Not for this sign-in."

    def has_permission(self, request: Any, view: Any) -> bool:
        """Ask the token, then the operation's rule; ``message`` says why not."""
        if not isinstance(request.user, User):
            return False
        reads_only = isinstance(request.auth, ApiToken) and request.auth.reads_only
        if reads_only and request.method not in SAFE_METHODS:
            self.message = "This token only reads: use one that may write."
            return False
        self.message = rule(view.rule).sentence
        return may(request.user, view.rule)


class Operation(APIView):
    """Base of all operations. ``rule`` names the line of `sites.access` that says whose it is.

    ``takes`` is the shape of the body (JSON, or with ``takes_form`` a form that holds a file),
    ``gives`` of the answer with ``status``, ``query`` of the parameters; ``refuses`` names the
    kinds of problem beyond those that every operation has.
    """

    authentication_classes = (ByToken, BySession)
    permission_classes = (Allowed,)
    throttle_classes = (PerPerson,)
    renderer_classes: Any = (JSONRenderer,)
    schema = OperationSchema()

    takes_form: ClassVar[bool] = False
    method: ClassVar[str]
    tag: ClassVar[str]
    rate: ClassVar[str] = "read"
    status: ClassVar[int] = 200
    takes: ClassVar[Any] = None
    gives: ClassVar[Any] = None
    query: ClassVar[Any] = None
    refuses: ClassVar[Sequence[str]] = ()
    rule: ClassVar[str]

    @classmethod
    def whose(cls) -> str:
        """Who may do it, as a sentence."""
        return rule(cls.rule).sentence

    def get_exception_handler(self) -> Any:
        """Every refusal becomes problem details."""
        return answer

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        """Sign in, ask whether they may, count the call; then refuse parameters nobody knows."""
        super().initial(request, *args, **kwargs)
        if unknown := sorted(set(request.query_params) - self.known_parameters()):
            known = ", ".join(sorted(self.known_parameters())) or "there is none"
            raise BadQuery({name: [f"is no parameter here: {known}."] for name in unknown})
        if twice := [n for n, values in request.query_params.lists() if len(values) > 1]:
            raise BadQuery({name: ["is given twice: give it once."] for name in twice})

    def get_parsers(self) -> list[Any]:
        """What reads the body."""
        return [Form() if self.takes_form else StrictJson()]

    def known_parameters(self) -> set[str]:
        """The names that the query may have."""
        return set(self.query().fields) if self.query else set()

    def finalize_response(self, request: Any, response: Any, *args: Any, **kwargs: Any) -> Any:
        """Answers belong to whoever asked: shared caches keep none, others ask first."""
        response = super().finalize_response(request, response, *args, **kwargs)
        response.setdefault("Cache-Control", "private, no-cache")
        patch_vary_headers(response, ("Accept", "Authorization", "Cookie"))
        return response

    def asked(self) -> dict[str, Any]:
        """The checked query. Raises BadQuery."""
        given = self.request.query_params.dict()
        found = self.query(data={n: given[n] for n in self.query().fields if n in given})
        if not found.is_valid():
            raise BadQuery(found.errors)
        return dict(found.validated_data)

    def shown(self, thing: Any) -> Any:
        """A thing as it is shown to whoever asks."""
        return self.gives(thing, context={"user": self.request.user}).data


class Unkept:
    """Beside an operation whose answers no cache keeps at all."""

    def finalize_response(self, *args: Any, **kwargs: Any) -> Any:
        """Say so."""
        response = super().finalize_response(*args, **kwargs)  # type: ignore[misc]
        response["Cache-Control"] = "no-store"
        return response


class Read(Operation):
    """One thing, with its entity tag. ``find`` gives it, or raises Http404."""

    method = "GET"

    def find(self, user: User, **path: Any) -> Any:
        """The thing of an address, among those that this person may see."""
        raise NotImplementedError

    def get(self, request: Any, **path: Any) -> Response:
        """The thing, or 304 where the caller has it already."""
        data = self.shown(self.find(request.user, **path))
        tag = entity_tag(data)
        if is_known(request, tag):
            return Response(status=304, headers={"ETag": tag})
        return Response(data, headers={"ETag": tag})


class Listing(Operation):
    """Rows that this person may see, filtered, in an order, page by page.

    ``orders`` names the orders by their columns; the first is the one that nobody asked for.
    """

    method = "GET"
    filters: ClassVar[Any] = None
    orders: ClassVar[Orders]

    def rows(self, user: User) -> QuerySet[Any]:
        """The rows, unfiltered."""
        raise NotImplementedError

    def known_parameters(self) -> set[str]:
        """Those of the filters and of the page."""
        own = set(self.filters.base_filters) if self.filters else set()
        return own | {"cursor", "limit", "order"}

    def order(self) -> tuple[str, ...]:
        """The columns of the order that was asked for. Raises BadQuery."""
        name = self.request.query_params.get("order", next(iter(self.orders)))
        if name not in self.orders:
            raise BadQuery({"order": [f"is no order here: {', '.join(self.orders)}."]})
        return self.orders[name]

    def get(self, request: Any, **path: Any) -> Response:
        """One page, and where the next one is."""
        order = self.order()
        limit = limit_of(request.query_params.get("limit"))
        rows = self.rows(request.user)
        if self.filters:
            found = self.filters(request.query_params, queryset=rows, request=request)
            if not found.is_valid():
                raise BadQuery({name: list(errors) for name, errors in found.errors.items()})
            rows = found.qs
        return self.page(*page_of(rows, order, limit, request.query_params.get("cursor")))

    def page(self, rows: Sequence[Any], cursor: str | None) -> Response:
        """A page as it is shown, and the address of the next one."""
        query = self.request.query_params.copy()
        query["cursor"] = cursor or ""
        next_page = f"{self.request.path}?{query.urlencode()}" if cursor else None
        shown = self.gives(rows, many=True, context={"user": self.request.user}).data
        return Response({"results": shown, "next": next_page})


class Act(Operation):
    """Something that is done. With ``on`` it changes the thing that this operation reads.

    ``act`` does it by a service and returns what is shown. Where the key of the call was answered
    before, that answer is given again and nothing is done.
    """

    method = "POST"
    rate = "write"
    status = 201
    on: ClassVar[type[Read] | None] = None
    replays: ClassVar[bool] = True

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Do it, inside a transaction that may be tried again."""
        raise NotImplementedError

    def place(self, done: Any) -> str:
        """The address of what was made, for ``Location``; empty where nothing was."""
        return ""

    def post(self, request: Any, **path: Any) -> Response:
        """Do it once for every key."""
        data = request.data if self.takes else {}
        call = replay.begin(request) if self.replays else None
        if call is not None and call.answered_at is not None:
            return replay.again(call)
        try:
            return self.once(request, data, call, path)
        except BaseException:
            if call is not None:
                api_call_drop(call=call)
            raise

    @written
    def once(self, request: Any, data: Any, call: Any, path: dict[str, Any]) -> Response:
        """The work and the answer kept of it, all or nothing; a wrong body is told before a 412."""
        values = self.checked(data)
        thing = self.locked(request, path) if self.on else None
        done = self.act(thing, values)
        shown = None if self.gives is None else self.shown(done)
        response = Response(shown, status=self.status)
        if place := self.place(done):
            response["Location"] = place
        if self.on and self.gives is self.on.gives:
            response["ETag"] = entity_tag(shown)
        if call is not None:
            replay.keep(call, response)
        return response

    def locked(self, request: Any, path: dict[str, Any]) -> Any:
        """The thing to change, as If-Match names it; nobody else changes it until this is over."""
        if self.on is None:
            return None
        tags = require_match(request)
        reader = self.on(request=request)
        row = reader.find(request.user, **path)
        list(type(row)._default_manager.select_for_update().filter(pk=row.pk).order_by())
        thing = reader.find(request.user, **path)
        match(tags, entity_tag(reader.shown(thing)))
        return thing

    def checked(self, data: Any) -> dict[str, Any]:
        """The body by its shape. Raises ValidationError with pointers."""
        if self.takes is None:
            return {}
        found = self.takes(data=data, context={"user": self.request.user, "view": self})
        found.is_valid(raise_exception=True)
        return dict(found.validated_data)
