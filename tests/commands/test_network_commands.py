"""``manage.py export_network`` and ``import_network``: files in, files out, or a clear refusal."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from planner.engine.codec import decode_network, encode_network
from planner.engine.scenario.small import SMALL
from sites.models import Programme, Site
from tests.gateway.record.same import engine_form

pytestmark = pytest.mark.django_db
NETWORK = SMALL["one-station"]()


def run(*words: str | Path) -> tuple[object, str, str]:
    """Exit code, what was printed, what went to stderr."""
    out, err = StringIO(), StringIO()
    code: object = 0
    try:
        call_command(*map(str, words), stdout=out, stderr=err)
    except SystemExit as end:
        code = end.code
    return code, out.getvalue(), err.getvalue()


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A network file."""
    path = tmp_path / "network.json"
    path.write_bytes(encode_network(NETWORK))
    return path


def horizon() -> tuple[str, ...]:
    """Options for the network's days."""
    return ("--first-day", f"{NETWORK.first_day}", "--days", f"{NETWORK.days}")


def test_a_site_whose_holidays_nobody_knows_is_named_and_nothing_written(
    file: Path, tmp_path: Path
) -> None:
    run("import_network", file)
    Site.objects.update(holiday_country="XX")
    code, out, err = run("export_network", tmp_path / "back.json", *horizon())
    assert (code, out) == (2, "")
    assert err.startswith(f"public holidays of site {NETWORK.sites[0].id}: 'XX' is no country")
    assert "use an ISO 3166-1 code" in err
    assert not (tmp_path / "back.json").exists()


def test_what_is_imported_is_exported(file: Path, tmp_path: Path) -> None:
    code, out, _ = run("import_network", file)
    assert (code, out.startswith("programme imported: 1 sites, 1 stations")) == (0, True)
    back = tmp_path / "back.json"
    code, out, _ = run("export_network", back, *horizon(), "--site", NETWORK.sites[0].id)
    assert (code, "8 requests" in out) == (0, True)
    assert engine_form(decode_network(back.read_bytes())) == engine_form(NETWORK)


def test_a_second_import_is_refused_with_every_place_and_nothing_is_written(file: Path) -> None:
    run("import_network", file)
    code, _, err = run("import_network", file)
    assert code == 2
    assert f'sites[0].id: "{NETWORK.sites[0].id}" is in the record already; import into' in err
    assert 'requests[7].id: "r8" is in the record already' in err
    assert Programme.objects.count() == 1


def test_fixed_appointments_that_collide_are_named(tmp_path: Path) -> None:
    path = tmp_path / "network.json"
    path.write_bytes(encode_network(SMALL["impossible-fixed"]()))
    code, _, err = run("import_network", path)
    assert code == 2
    assert "appointments[1].start: overlaps appointments[0] of the same station" in err
    assert not Site.objects.exists()


def test_an_unknown_site_ends_with_2_and_writes_no_file(file: Path, tmp_path: Path) -> None:
    run("import_network", file)
    path = tmp_path / "none.json"
    code, _, err = run("export_network", path, *horizon(), "--site", "nowhere")
    assert (code, err.strip()) == (
        2,
        "site nowhere: is not in the record; name a site's code",
    )
    assert not path.exists()


@pytest.mark.parametrize("words", [("2027-02-30", "5"), ("2027-02-03", "0"), ("2027-02-03", "999")])
def test_a_horizon_that_is_none_is_refused(tmp_path: Path, words: tuple[str, str]) -> None:
    with pytest.raises(CommandError, match=r"is no date|is not a whole number"):
        run("export_network", tmp_path / "x", "--first-day", words[0], "--days", words[1])
