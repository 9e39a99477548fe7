"""The audit on PostgreSQL: a function for each table; a comment before each statement says who.

A comment costs no round trip, cannot outlive its statement, and is right after a rollback and
behind a pooler, which a setting of the connection is not. Rows that come or go are written a
statement at a time; a change needs the old and the new row together and is written row by row: a
join of the two sets would keep a plan made while they were small.
"""

from __future__ import annotations

from sites.audit.sources import TABLE, Watched, watched

VIOLATION = "USING ERRCODE = 'integrity_constraint_violation'"
INSERT = f"INSERT INTO {TABLE} (at, actor, request, what, noun, key, changes)"
SAID = "^/\\* platen ([A-Za-z0-9_.:-]+) ([A-Za-z0-9_.:-]*) \\*/"
WHO = (
    "CREATE OR REPLACE FUNCTION record_audit_who(OUT actor text, OUT request text) "
    "LANGUAGE plpgsql STABLE AS $$ "
    f"DECLARE said text[] := regexp_match(left(current_query(), 200), '{SAID}'); "
    "BEGIN actor := coalesce(said[1], left('database:' || session_user, 80)); "
    "request := coalesce(said[2], ''); END $$"
)
GUARD = (
    "CREATE OR REPLACE FUNCTION record_audit_guard() RETURNS trigger LANGUAGE plpgsql AS $$ "
    f"BEGIN RAISE EXCEPTION 'the audit is append-only' {VIOLATION}; END $$"
)
EVENTS = (
    ("added", "AFTER INSERT ON {table} REFERENCING NEW TABLE AS come FOR EACH STATEMENT"),
    ("changed", "AFTER UPDATE ON {table} FOR EACH ROW WHEN (OLD.* IS DISTINCT FROM NEW.*)"),
    ("removed", "AFTER DELETE ON {table} REFERENCING OLD TABLE AS gone FOR EACH STATEMENT"),
    ("emptied", "AFTER TRUNCATE ON {table} FOR EACH STATEMENT"),
)


def of(row: str, name: str) -> str:
    """A column of a row."""
    return f'{row}."{name}"'


def values(source: Watched) -> str:
    """The loud columns of row ``r`` as a JSON object."""
    members = ", ".join(f"'{name}', {of('r', name)}" for name in source.loud)
    return f"jsonb_build_object({members})"


def differences(source: Watched) -> str:
    """What changed as a JSON object; a column that did not is no member of it."""
    parts = []
    for name in source.heard:
        both = f"{of('OLD', name)}, {of('NEW', name)}"
        said = f"jsonb_build_array({both if name in source.loud else ''})"
        differs = f"{of('OLD', name)} IS DISTINCT FROM {of('NEW', name)}"
        parts.append(f"'{name}', CASE WHEN {differs} THEN {said} END")
    return f"jsonb_strip_nulls(jsonb_build_object({', '.join(parts)}))"


def function(source: Watched) -> str:
    """The function that writes the entries of one table."""
    told = "clock_timestamp(), said.actor, said.request"
    key = of("r", source.key)
    came = values(source) if source.whole else "'{}'"
    return (
        f"CREATE OR REPLACE FUNCTION record_audit_{source.noun}() RETURNS trigger "
        "LANGUAGE plpgsql AS $$ DECLARE differs jsonb; said record; BEGIN "
        f"IF TG_OP = 'UPDATE' THEN differs := {differences(source)}; "
        f"IF differs = '{{}}' AND {of('OLD', source.key)} = {of('NEW', source.key)} "
        "THEN RETURN NULL; END IF; "
        f"said := record_audit_who(); {INSERT} VALUES ({told}, 'changed', '{source.noun}', "
        f"{of('OLD', source.key)}, differs); RETURN NULL; END IF; "
        "said := record_audit_who(); "
        f"IF TG_OP = 'INSERT' THEN {INSERT} SELECT {told}, 'added', '{source.noun}', {key}, {came} "
        f"FROM come r; ELSIF TG_OP = 'DELETE' THEN {INSERT} SELECT {told}, 'removed', "
        f"'{source.noun}', {key}, {values(source)} FROM gone r; "
        f"ELSE {INSERT} VALUES ({told}, 'emptied', '{source.noun}', NULL, '{{}}'); END IF; "
        "RETURN NULL; END $$"
    )


def table_triggers(source: Watched) -> dict[str, str]:
    """Name and text of the triggers of one table."""
    return {
        f"{source.table}_audit_{what}": f"CREATE TRIGGER {source.table}_audit_{what} "
        f"{when.format(table=source.table)} EXECUTE FUNCTION record_audit_{source.noun}()"
        for what, when in EVENTS
    }


def triggers() -> dict[str, str]:
    """Every trigger by name."""
    made = {
        f"{TABLE}_kept": f"CREATE TRIGGER {TABLE}_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON "
        f"{TABLE} FOR EACH STATEMENT EXECUTE FUNCTION record_audit_guard()"
    }
    for source in watched():
        made.update(table_triggers(source))
    return made


def install() -> list[str]:
    """Statements that put the functions and triggers in place."""
    return [WHO, GUARD, *(function(source) for source in watched()), *triggers().values()]


PRESENT = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
DROPS = (
    "SELECT 'DROP FUNCTION ' || oid::regprocedure || ' CASCADE' FROM pg_proc "
    "WHERE proname LIKE 'record\\_audit\\_%' AND pg_function_is_visible(oid)"
)
