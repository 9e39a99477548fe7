"""Calling the API as a program does: with a token, in JSON, and the conditions that changes ask."""

from __future__ import annotations

import json
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from sites.models import User
from sites.services.api_tokens import api_token_make

API = "/api/v1/"
PROBLEM = "application/problem+json"


class Caller:
    """Somebody with a token of their own; nobody without one."""

    def __init__(self, user: User | None, *, reads_only: bool = False) -> None:
        self.user = user
        self.client = Client()
        self.token: Any = None
        self.signed: dict[str, str] = {}
        if user is not None:
            self.token, secret = api_token_make(
                owner=user, name="tests", days=1, reads_only=reads_only
            )
            self.signed = {"Authorization": f"Bearer {secret}"}

    def get(self, path: str, **headers: str) -> Any:
        """Read."""
        return self.client.get(API + path, headers=self.signed | named(headers))

    def post(self, path: str, body: Any = None, **headers: str) -> Any:
        """Do; a body that holds bytes is sent as a form with that file."""
        sent = self.signed | named(headers)
        if is_form(body):
            parts = {name: part_of(value) for name, value in body.items()}
            return self.client.post(API + path, data=parts, headers=sent)
        return self.client.post(
            API + path,
            data=None if body is None else json.dumps(body),
            content_type="application/json",
            headers=sent,
        )

    def delete(self, path: str, **headers: str) -> Any:
        """Take away."""
        return self.client.delete(API + path, headers=self.signed | named(headers))

    def change(self, path: str, body: Any = None, of: str = "", **headers: str) -> Any:
        """Do something to a thing as read just now; ``of`` is the address less its last part."""
        of = of or "/".join(path.rstrip("/").split("/")[:-1]) + "/"
        tag = self.get(of).headers.get("ETag", "*")
        return self.post(path, body, if_match=tag, **headers)


def is_form(body: Any) -> bool:
    """Whether a body is sent as a form: it holds a file."""
    return isinstance(body, dict) and any(isinstance(each, bytes) for each in body.values())


def part_of(value: Any) -> Any:
    """A value as a part of a form."""
    return SimpleUploadedFile("sent.csv", value) if isinstance(value, bytes) else value


def named(headers: dict[str, str]) -> dict[str, str]:
    """Names of headers as they are sent."""
    return {name.replace("_", "-").title(): value for name, value in headers.items()}


def problem(answer: Any, status: int, kind: str) -> dict[str, Any]:
    """The problem of an answer, after its shape was checked against RFC 9457."""
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == PROBLEM  # RFC 9457, section 3
    found: dict[str, Any] = json.loads(answer.content)
    assert found["type"] == f"{API}problems/{kind}/"
    return found
