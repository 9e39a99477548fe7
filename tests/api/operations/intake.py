"""Rows of lists of candidates; everybody calls them on a list of their own."""

from __future__ import annotations

from collections.abc import Callable

from sites.models import Intake, User
from tests.api.operations.row import ABROAD, COORDINATORS, Row, get, post
from tests.sites.build import World
from tests.web.lived import given, listed

LIST = b"Reference;Surname;Due date\nN-1;Newone;20.03.2026\nN-2;Newtwo;21.03.2026\n"


def own_list(*, checked: bool) -> Callable[[World, User], dict[str, str]]:
    """A list that the caller gave; for somebody of another site one that the coordinator gave."""

    def find(here: World, user: User) -> dict[str, str]:
        if here.users.get(user.username) != user:
            return {"intake": "list-1"}
        code = f"{'checked' if checked else 'given'}-{user.username}"
        if not Intake.objects.filter(code=code).exists():
            (listed if checked else given)(here, user, code)
        return {"intake": code}

    return find


def on_list(verb: str, path: str, *, checked: bool = True, **more: object) -> Row:
    """An operation on a list."""
    method = {"get": get, "post": post}[verb]
    return method(
        f"intakes/{{intake}}/{path}",
        COORDINATORS,
        abroad=ABROAD,
        finds=own_list(checked=checked),
        **more,
    )


ROWS: dict[str, Row] = {
    "intakes_list": get("intakes/", COORDINATORS, query={"step": "checked"}),
    "intake_give": post("intakes/", COORDINATORS, status=201, abroad=201, body={"file": LIST}),
    "intake_template": get("intakes/template/", COORDINATORS),
    "intake_read": on_list("get", ""),
    "intake_columns": on_list("get", "columns/"),
    "intake_choose": on_list(
        "post",
        "columns/",
        on="intake_read",
        body={
            "columns": ["reference", "family_name", "given_name", "", "due", "sites"],
            "programme": "p-one",
            "profile": "full",
            "received": "2026-03-01",
        },
    ),
    "intake_findings": on_list("get", "findings/", query={"kind": "fault"}),
    "intake_problems": on_list("get", "problems/"),
    "intake_go_on": on_list("post", "go-on/", checked=False, on="intake_read", body={}),
    "intake_take": on_list(
        "post", "take/", on="intake_read", body={"whole": False, "doubles": False}
    ),
    "intake_leave": on_list("post", "leave/", on="intake_read", body={}),
    "candidate_take": post(
        "candidates/",
        COORDINATORS,
        status=201,
        abroad=400,
        body={
            "reference": "N/9",
            "programme": "p-one",
            "profile": "full",
            "family_name": "Tavoren",
            "phone": "+00 555 0199",
            "sites": ["site-1"],
            "needs": ["longer"],
            "times": ["2026-03-05 09:00-12:00"],
        },
    ),
}
