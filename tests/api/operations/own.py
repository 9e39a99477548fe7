"""Rows of who is signed in, their tokens and the document."""

from __future__ import annotations

from tests.api.operations.row import EVERYBODY, Row, get, own_token, post

ROWS: dict[str, Row] = {
    "schema_read": get("schema/"),
    "own_read": get("me/"),
    "tokens_list": get("tokens/"),
    "token_make": post(
        "tokens/", EVERYBODY, status=201, abroad=201, body={"name": "x", "days": 9}, session=True
    ),
    "token_revoke": Row("DELETE", "tokens/{token}/", EVERYBODY, 204, abroad=204, finds=own_token),
    "problems_read": get("problems/{kind}/", parts={"kind": "slot_taken"}),
}
