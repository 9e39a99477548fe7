"""An old contact key can be withdrawn once everything it sealed is sealed anew."""

from __future__ import annotations

from io import StringIO
from typing import Any

import pytest
from cryptography.fernet import InvalidToken
from django.core.management import CommandError, call_command
from django.db.models import TextField
from django.db.models.functions import Cast

from sites.crypto import Seal, resealed, seal_of, sealed
from sites.models import ApiCall, AuditEntry, Intake, Subject
from sites.services.reseal import sealed_tables, seals_renew
from tests.sites.build import NOW, World

pytestmark = pytest.mark.django_db
TEXTS = {"given_name": "Ilmi", "family_name": "Tavoren", "phone": "+00 1", "email": "t@x.invalid"}


def run(*words: str) -> str:
    """What the command says."""
    said = StringIO()
    call_command("reseal", *words, stdout=said, stderr=StringIO())
    return said.getvalue()


def tokens() -> list[str]:
    """The sealed texts of subjects, as they lie in the database."""
    columns = [Cast(name, TextField()) for name in TEXTS]
    return [token for row in Subject.objects.order_by("pk").values_list(*columns) for token in row]


@pytest.fixture
def older(here: World, settings: Any) -> World:
    """Three people, a list and an answer under an old key; the settings have a newer one."""
    settings.CONTACT_KEYS = ["old"]
    for n in range(3):
        Subject.objects.create(reference=f"s-{n}", **TEXTS)
    Intake.objects.create(code="i", by=here.desk, given_at=NOW, kind="csv", rows=1, head="[]")
    ApiCall.objects.create(
        caller=here.desk, key="k", body="b", started_at=NOW, answered_at=NOW, answer="{}"
    )
    settings.CONTACT_KEYS = ["new", "old"]
    return here


def test_every_sealed_column_is_known() -> None:
    found = {model.__name__: set(columns) for model, columns in sealed_tables()}
    assert found == {
        "Subject": set(TEXTS),
        "Intake": {"file_name", "head"},
        "IntakeBlock": {"cells"},
        "ApiCall": {"answer"},
    }


def test_the_old_key_can_go_afterwards(older: World, settings: Any) -> None:
    before = tokens()
    said = run()
    assert "subjects: 12 texts to seal anew, 0 as they should be" in said
    assert "nothing was changed; --apply seals 14 texts anew" in said
    assert tokens() == before
    said = run("--apply", "--batch", "2")
    assert "subjects: 12 texts sealed anew" in said
    assert "nothing in the record needs an older key" in said
    assert "subjects: 0 texts to seal anew, 12 as they should be" in run()
    settings.CONTACT_KEYS = ["new"]
    for one in Subject.objects.all():
        assert {name: getattr(one, name) for name in TEXTS} == TEXTS
    assert ApiCall.objects.get().answer == "{}"
    assert "nothing in the record needs an older key" in run()


def test_a_run_that_was_cut_short_goes_on(older: World) -> None:
    seals_renew(model=Subject, columns=tuple(TEXTS), after=0, most=1)
    assert "subjects: 8 texts to seal anew, 4 as they should be" in run()
    run("--apply")
    assert {seal_of(token) for token in tokens()} == {Seal.NEWEST}


def test_nothing_else_of_a_row_changes(older: World) -> None:
    sealed_names = {*TEXTS}
    keep = [f.name for f in Subject._meta.concrete_fields if f.name not in sealed_names]
    before = list(Subject.objects.order_by("pk").values(*keep))
    last = AuditEntry.objects.order_by("-id").values_list("id", flat=True)[0]
    run("--apply")
    assert list(Subject.objects.order_by("pk").values(*keep)) == before
    entries = AuditEntry.objects.filter(id__gt=last, noun="subject")
    assert [entry.changes for entry in entries] == [{name: [] for name in TEXTS}] * 3


def test_what_no_key_opens_is_named_and_stays(older: World, settings: Any) -> None:
    settings.CONTACT_KEYS = ["newest", "new"]
    before = tokens()
    with pytest.raises(CommandError, match="14 texts were sealed") as told:
        run("--apply")
    assert "a key that is not among the 2 of PLATEN_CONTACT_KEYS" in str(told.value)
    assert tokens() == before


def test_without_a_key_it_says_which(settings: Any, db: None) -> None:
    settings.CONTACT_KEYS = []
    with pytest.raises(CommandError, match="PLATEN_CONTACT_KEYS"):
        run()


def test_a_token_of_a_lost_key_is_never_written_over(settings: Any) -> None:
    settings.CONTACT_KEYS = ["lost"]
    token = sealed("text")
    settings.CONTACT_KEYS = ["new", "old"]
    assert seal_of(token) is Seal.STRANGE
    with pytest.raises(InvalidToken):
        resealed(token)
