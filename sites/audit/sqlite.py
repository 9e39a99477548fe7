"""The audit on SQLite: a trigger for each table and kind of write; the connection says who writes.

``record_audit_actor()`` and ``record_audit_request()`` are functions of this program's connections.
Another program's connection has none, so that its writes are refused: nothing is written unheard.
"""

from __future__ import annotations

from sites.audit.sources import TABLE, Watched, watched

NOW = "strftime('%Y-%m-%d %H:%M:%f', 'now')"
APPEND_ONLY = "SELECT RAISE(ABORT, 'the audit is append-only')"
KEPT_BY_NAME = "json_array()"  # a change whose values are not kept


def entry(source: Watched, what: str, row: str, changes: str) -> str:
    """The statement that writes an entry."""
    return (
        f"INSERT INTO {TABLE} (at, actor, request, what, noun, key, changes) VALUES ({NOW}, "
        f"record_audit_actor(), record_audit_request(), '{what}', '{source.noun}', "
        f"{of(row, source.key)}, {changes});"
    )


def of(row: str, name: str) -> str:
    """A column of OLD or NEW."""
    return f'{row}."{name}"'


def values(source: Watched, row: str) -> str:
    """The loud columns of a row as a JSON object."""
    members = ", ".join(f"'{name}', {of(row, name)}" for name in source.loud)
    return f"json_object({members})"


def differs(name: str) -> str:
    """The condition that a column changed."""
    return f"{of('OLD', name)} IS NOT {of('NEW', name)}"


def differences(source: Watched) -> str:
    """What changed as a JSON object; a column that did not is no member of it."""
    parts = []
    for name in source.heard:
        both = f"json_array({of('OLD', name)}, {of('NEW', name)})"
        said = both if name in source.loud else KEPT_BY_NAME
        parts.append(f"'{name}', CASE WHEN {differs(name)} THEN {said} END")
    return f"json_patch('{{}}', json_object({', '.join(parts)}))"


def table_triggers(source: Watched) -> dict[str, str]:
    """Name and text of the triggers of one table."""
    changed = " OR ".join([*map(differs, source.heard), differs(source.key)])
    came = values(source, "NEW") if source.whole else "'{}'"
    written = (
        ("added", "INSERT", "", entry(source, "added", "NEW", came)),
        ("changed", "UPDATE", f"WHEN {changed} ", changed_entry(source)),
        ("removed", "DELETE", "", entry(source, "removed", "OLD", values(source, "OLD"))),
    )
    return {
        f"{source.table}_audit_{what}": f"CREATE TRIGGER {source.table}_audit_{what} AFTER {event} "
        f"ON {source.table} {when}BEGIN {statement} END"
        for what, event, when, statement in written
    }


def changed_entry(source: Watched) -> str:
    """The statement that writes the entry of a change."""
    return entry(source, "changed", "OLD", differences(source))


def guards() -> dict[str, str]:
    """Name and text of the triggers that keep the audit as it was written.

    The third refuses INSERT OR REPLACE, which takes a row away without a DELETE trigger on a
    connection whose recursive triggers are off.
    """
    return {
        f"{TABLE}_not_changed": f"CREATE TRIGGER {TABLE}_not_changed BEFORE UPDATE ON {TABLE} "
        f"BEGIN {APPEND_ONLY}; END",
        f"{TABLE}_not_deleted": f"CREATE TRIGGER {TABLE}_not_deleted BEFORE DELETE ON {TABLE} "
        f"BEGIN {APPEND_ONLY}; END",
        f"{TABLE}_not_replaced": f"CREATE TRIGGER {TABLE}_not_replaced BEFORE INSERT ON {TABLE} "
        f"WHEN EXISTS (SELECT 1 FROM {TABLE} WHERE id = NEW.id) BEGIN {APPEND_ONLY}; END",
    }


def triggers() -> dict[str, str]:
    """Every trigger by name."""
    made = guards()
    for source in watched():
        made.update(table_triggers(source))
    return made


def install() -> list[str]:
    """Statements that put the triggers in place."""
    return list(triggers().values())


PRESENT = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
DROPS = (
    "SELECT 'DROP TRIGGER ' || name FROM sqlite_master WHERE type = 'trigger' "
    f"AND (name LIKE '%\\_audit\\_%' ESCAPE '\\' OR tbl_name = '{TABLE}')"
)
