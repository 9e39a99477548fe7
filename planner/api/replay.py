"""``Idempotency-Key``: a call that is sent again is answered again, and done once."""

from __future__ import annotations

import hashlib
import json
import re
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response

from planner.api.problems import BadHeader
from sites.models import ApiCall
from sites.services.api_calls import api_call_answer, api_call_begin

HEADER = "Idempotency-Key"
FORM = re.compile(r"[\x21-\x7e]{1,255}")
KEPT_HEADERS = ("Location", "ETag")


def begin(request: Any) -> ApiCall | None:
    """The call of the key that was sent, answered or not; None where none was.

    The key belongs to whoever is signed in; address, body and If-Match belong to the call.
    """
    key = request.headers.get(HEADER)
    if key is None:
        return None
    if not FORM.fullmatch(key):
        raise BadHeader({HEADER: ["is no key: send 1 to 255 visible ASCII characters."]})
    sent = (
        request.method.encode(),
        request.get_full_path().encode(),
        request.headers.get("If-Match", "").encode(),
        canonical(request),
    )
    return api_call_begin(caller=request.user, key=key, sent=sent)


def canonical(request: Any) -> bytes:
    """The body without what does not count: spaces, the order of names, boundaries of a form."""
    return json.dumps(request.data, sort_keys=True, separators=(",", ":"), default=hashed).encode()


def hashed(file: UploadedFile[bytes]) -> list[str]:
    """What tells a file from others: its name and the hash of its bytes."""
    digest = hashlib.sha256()
    for chunk in file.chunks():
        digest.update(chunk)
    file.seek(0)
    return [file.name or "", digest.hexdigest()]


def keep(call: ApiCall, response: Response) -> None:
    """Keep the answer, sealed, in the transaction of what it tells of."""
    api_call_answer(
        call=call,
        answer=json.dumps(
            {
                "status": response.status_code,
                "headers": {name: response[name] for name in KEPT_HEADERS if name in response},
                "body": None
                if response.data is None
                else json.loads(JSONRenderer().render(response.data)),
            }
        ),
    )


def again(call: ApiCall) -> Response:
    """The answer that was kept."""
    kept = json.loads(call.answer or "")
    headers = {**kept["headers"], "Idempotency-Replayed": "true"}
    return Response(kept["body"], status=kept["status"], headers=headers)
