"""Many requests at once: asked with its effect, done once, and what changed meanwhile is named."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from planner.web import chosen
from sites.models import Hold, Request, Role, Site
from sites.services.holds import requests_hold, requests_release
from tests.sites.build import DAY, World
from tests.web.lived import NOW
from tests.web.test_requests import many

HELD = {"why": "papers are missing"}


def choose(client: Client, act: str, *names: str, **more: str) -> Any:
    """Tick requests in the list and press a button; the page that it leads to."""
    data: dict[str, Any] = {"act": act, "on": names, "shown": "standing=all&sort=due", **more}
    return client.post("/chosen/", data, follow=True)


def address(answer: Any) -> str:
    """Where it led."""
    return str(answer.redirect_chain[-1][0])


def another() -> Site:
    """A further site."""
    return Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")


def do(client: Client, question: Any, **values: Any) -> Any:
    """Answer the question."""
    sent = {"seen": question.context["seen"], **values}
    return client.post(question.request["PATH_INFO"], sent, follow=True)


def outcome(answer: Any) -> tuple[int, dict[str, str]]:
    """How many it was done with, and the others with their reasons."""
    assert answer.status_code == 200
    return answer.context["one"].done, dict(answer.context["skipped"])


def test_requests_are_held_after_the_question_says_which_cannot_be(
    desk: Client, here: World
) -> None:
    question = choose(desk, "hold", "free", "booked", "late")
    assert question.context["count"] == 2
    assert question.context["skipped"] == [("booked", "stands at “Booked”")]
    assert "Put on hold: 2 requests" in question.content.decode()
    assert Hold.objects.count() == 0
    refused = do(desk, question, why="")
    assert (refused.status_code, Hold.objects.count()) == (422, 0)
    for day in ("2026-03-02", "never"):
        assert do(desk, refused, **HELD, until=day).status_code == 422
    answer = do(desk, refused, **HELD, more="until Friday", until="2026-03-06")
    assert outcome(answer) == (2, {"booked": "stands at “Booked”"})
    assert "2 requests were put on hold; 1 was not" in answer.content.decode()
    held = list(Hold.objects.values_list("request__reference", "why", "by", "until"))
    by, until = here.desk.pk, DAY + timedelta(days=4)
    assert sorted(held) == [
        (name, "papers are missing; until Friday", by, until) for name in ("free", "late")
    ]
    assert answer.context["one"].back == "/requests/?standing=all&sort=due"
    again = desk.post(question.request["PATH_INFO"], {"seen": "", **HELD}, follow=True)
    assert outcome(again)[0] == 2
    assert Hold.objects.count() == 2


def test_what_somebody_booked_meanwhile_is_named_and_not_held(desk: Client, here: World) -> None:
    question = choose(desk, "hold", "free", "late")
    here.book(Request.objects.get(reference="free"), 900)
    words = "was changed by somebody else meanwhile: it stands at “Booked”"
    assert outcome(do(desk, question, **HELD)) == (1, {"free": words})
    assert Hold.objects.get().request.reference == "late"


def test_a_hold_that_somebody_else_set_meanwhile_stays(desk: Client, here: World) -> None:
    rows = list(Request.objects.filter(reference__in=["free", "late"]))
    requests_hold(requests=rows, why="first", by=here.desk, at=NOW)
    question = choose(desk, "release", "free", "late", "booked")
    assert question.context["count"] == 2
    free = [row for row in rows if row.reference == "free"]
    requests_release(requests=free, by=here.desk, at=NOW)
    requests_hold(requests=free, why="second", by=here.desk, at=NOW)
    assert outcome(do(desk, question)) == (
        1,
        {"free": "was changed by somebody else meanwhile", "booked": "is not on hold"},
    )
    assert Hold.objects.get(released_at=None).why == "second"


def test_a_question_that_another_window_asked_anew_is_asked_again(
    desk: Client, here: World
) -> None:
    question = choose(desk, "hold", "free", "late")
    here.book(Request.objects.get(reference="free"), 900)
    desk.get(address(question))
    answer = do(desk, question, **HELD)
    assert answer.status_code == 409
    assert "Nothing was done." in answer.content.decode()
    assert answer.context["count"] == 1
    assert Hold.objects.count() == 0
    assert outcome(do(desk, answer, **HELD))[0] == 1


def test_all_that_the_filters_show_are_taken_up_to_a_limit(
    desk: Client, here: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    many(here, 60)
    shown = desk.get("/requests/?q=many&sort=reference")
    assert "all 60 that the filters show" in shown.content.decode()
    question = choose(desk, "hold", every="yes", shown="q=many&sort=reference&page=2")
    assert (question.context["count"], question.context["one"].more) == (60, 0)
    monkeypatch.setattr(chosen, "MOST", 8)
    question = choose(desk, "hold", every="yes", shown="q=many&sort=reference")
    assert (question.context["count"], question.context["one"].more) == (8, 52)
    assert "The list showed 52 more" in question.content.decode()
    assert outcome(do(desk, question, **HELD))[0] == 8
    held = Hold.objects.values_list("request__reference", flat=True)
    assert set(held) == set(sorted(f"many-{n}" for n in range(60))[:8])


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({}, "No request was ticked."),
        ({"on": "nobody"}, "No request was ticked."),
        ({"every": "yes", "shown": "standing=asleep"}, "A filter of the list was refused"),
        ({"every": "yes", "shown": "q=nobody"}, "No request was ticked."),
    ],
)
def test_nothing_ticked_leads_back(desk: Client, data: dict[str, str], words: str) -> None:
    answer = desk.post("/chosen/", {"act": "hold", **data}, follow=True)
    assert answer.redirect_chain[-1][0].startswith("/requests/?")
    assert f"<b>Mind.</b> {words}" in answer.content.decode()


def test_an_act_that_does_not_exist_is_refused(desk: Client) -> None:
    answer = desk.post("/chosen/", {"act": "burn", "on": "free"})
    assert answer.status_code == 409
    assert "use one of its buttons" in answer.content.decode()


def test_a_set_is_its_persons_own_and_only_the_last_are_kept(
    desk: Client, here: World, client: Client
) -> None:
    first = choose(desk, "hold", "free")
    for _ in range(chosen.SETS):
        last = choose(desk, "hold", "late")
    for where in (first, last):
        answer = desk.get(address(where), follow=True)
        forgotten = answer.redirect_chain != []
        assert forgotten == (where is first)
    other = Client()
    other.force_login(here.users[Role.ADMINISTRATOR])
    answer = other.get(address(last), follow=True)
    assert "no longer kept: tick them again" in answer.content.decode()


def test_sites_are_added_taken_and_set_alone(desk: Client, here: World) -> None:
    here.desk.covers.add(another())
    question = choose(desk, "sites", "free", "booked", "sent")
    assert "What would it do?" in question.content.decode()
    assert "seen" not in question.context
    path = address(question)
    steps: list[tuple[str, str, dict[str, str], dict[str, set[str]]]] = [
        ("add", "site-2", {}, {"free": {"site-1", "site-2"}, "booked": {"site-1", "site-2"}}),
        (
            "only",
            "site-2",
            {"booked": "is booked at Site 1: move or cancel that first"},
            {"free": {"site-2"}, "booked": {"site-1", "site-2"}},
        ),
        (
            "take",
            "site-2",
            {"free": "would have no site left"},
            {"free": {"site-2"}, "booked": {"site-1"}},
        ),
    ]
    for how, site, skipped, expected in steps:
        path = address(choose(desk, "sites", "free", "booked", "sent"))
        question = desk.get(path, {"how": how, "sites": site})
        sent = {"sent": "stands at “Sent, no response”"}
        assert dict(question.context["skipped"]) == sent | skipped
        answer = do(desk, question, how=how, sites=site)
        assert outcome(answer) == (2 - len(skipped), sent | skipped)
        for name, sites in expected.items():
            rows = Request.objects.get(reference=name).at_sites.select_related("site")
            assert {row.site.code for row in rows} == sites, (how, name)


def test_another_change_than_the_one_that_was_shown_is_not_made(desk: Client, here: World) -> None:
    here.desk.covers.add(another())
    path = address(choose(desk, "sites", "free"))
    question = desk.get(path, {"how": "add", "sites": "site-2"})
    answer = do(desk, question, how="only", sites="site-2")
    assert outcome(answer) == (0, {"free": "was changed by somebody else meanwhile"})
    assert Request.objects.get(reference="free").at_sites.count() == 1


def test_a_site_out_of_view_can_be_neither_given_nor_taken(desk: Client, here: World) -> None:
    another()
    path = address(choose(desk, "sites", "free"))
    assert "Site 2" not in desk.get(path).content.decode()
    answer = desk.get(path, {"how": "add", "sites": "site-2"})
    assert "seen" not in answer.context
    assert "site-2 is not one of the available choices" in answer.content.decode()


def test_plan_them_leads_to_the_form_with_those_that_need_a_session(desk: Client) -> None:
    question = choose(desk, "plan", "free", "sent", "late", "booked")
    assert question.context["count"] == 3
    assert dict(question.context["skipped"]) == {"sent": "stands at “Sent, no response”"}
    code = address(question).split("/")[2]
    assert f"/runs/new/?chosen={code}" in question.content.decode()
    form = desk.get(f"/runs/new/?chosen={code}").context["form"]
    assert form.initial["which"] == "listed"
    assert set(form.initial["listed"].split()) == {"free", "late", "booked"}
    assert desk.get("/runs/new/?chosen=gone").context["form"].initial["which"] == "all"


@pytest.mark.parametrize(
    ("role", "acts"),
    [
        (Role.COORDINATOR, ["plan", "hold", "release", "sites"]),
        (Role.SITE_LEAD, ["plan"]),
        (Role.MANAGER, ["plan"]),
        (Role.TECHNICIAN, []),
        (Role.AUDITOR, []),
    ],
)
def test_only_what_a_role_may_is_offered(
    here: World, client: Client, role: Role, acts: list[str]
) -> None:
    client.force_login(here.users[role])
    answer = client.get("/requests/?standing=all")
    assert [act.name for act in answer.context["acts"]] == acts
    assert ('name="on"' in answer.content.decode()) == bool(acts)


def test_more_requests_cost_no_more_queries(desk: Client, here: World) -> None:
    many(here, 40)
    counts = []
    for names in (["free"], [f"many-{n}" for n in range(40)]):
        question = choose(desk, "hold", *names)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            desk.get(address(question))
        with CaptureQueriesContext(connection) as did:
            do(desk, question, **HELD)
        counts.append((len(asked), len(did)))
    assert counts[0] == counts[1]
