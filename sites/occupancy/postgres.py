"""Occupancy on PostgreSQL: an exclusion constraint over ranges of minutes, filled by triggers."""

from __future__ import annotations

from sites.occupancy.sources import POSTGRES, SOURCES, Source, due, view

SAME = "v.kind = o.kind AND v.resource = o.resource AND v.starts = o.starts AND v.ends = o.ends"


def function(source: Source) -> str:
    """The function that keeps the occupancy of one table's rows."""
    agrees = ""
    if source.agrees:
        condition, words = source.agrees
        agrees = (
            f"IF TG_OP <> 'DELETE' AND EXISTS (SELECT 1 FROM {source.table} t WHERE t.id = NEW.id "
            f"AND NOT ({condition})) THEN RAISE EXCEPTION 'disagrees: {words}' "
            "USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        )
    return (
        f"CREATE OR REPLACE FUNCTION record_{source.name}_occupies() RETURNS trigger "
        f"LANGUAGE plpgsql AS $$ BEGIN {agrees}"
        f"IF TG_OP = 'TRUNCATE' THEN DELETE FROM record_occupancy WHERE source = {source.number}; "
        "RETURN NULL; END IF; "
        "IF TG_OP <> 'INSERT' THEN DELETE FROM record_occupancy o "
        f"WHERE o.source = {source.number} "
        f"AND o.source_id = OLD.id AND NOT EXISTS (SELECT 1 FROM {view(source)} v "
        f"WHERE v.source_id = OLD.id AND {SAME}); END IF; "
        "IF TG_OP <> 'DELETE' THEN INSERT INTO record_occupancy "
        "(source, source_id, kind, resource, starts, ends) "
        "SELECT v.source, v.source_id, v.kind, v.resource, v.starts, v.ends "
        f"FROM {view(source)} v WHERE v.source_id = NEW.id AND NOT EXISTS "
        f"(SELECT 1 FROM record_occupancy o WHERE o.source = {source.number} "
        f"AND o.source_id = NEW.id AND {SAME}) ORDER BY v.kind, v.resource; END IF; "
        "RETURN NULL; END $$"
    )


def guard() -> str:
    """The function that refuses rows which no source owes, and deletions of rows still owed."""
    still = " OR ".join(
        f"(r.source = {source.number} AND EXISTS (SELECT 1 FROM {view(source)} v WHERE "
        "v.source_id = r.source_id AND v.kind = r.kind AND v.resource = r.resource "
        "AND v.starts = r.starts AND v.ends = r.ends))"
        for source in SOURCES
    )
    return (
        "CREATE OR REPLACE FUNCTION record_occupancy_guard() RETURNS trigger "
        "LANGUAGE plpgsql AS $$ DECLARE r record_occupancy; owed boolean; BEGIN "
        "IF TG_OP = 'UPDATE' THEN RAISE EXCEPTION 'occupancy follows its rows and is not changed' "
        "USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        "IF TG_OP = 'DELETE' THEN r := OLD; ELSE r := NEW; END IF; "
        f"owed := {still}; "
        "IF TG_OP = 'DELETE' AND owed THEN RAISE EXCEPTION "
        "'occupancy follows its rows and is not deleted' "
        "USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        "IF TG_OP = 'INSERT' AND NOT owed THEN RAISE EXCEPTION "
        "'occupancy follows its rows and is not written' "
        "USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        "RETURN r; END $$"
    )


def triggers() -> dict[str, str]:
    """Every trigger by name."""
    made = {
        "record_occupancy_guard": "CREATE TRIGGER record_occupancy_guard BEFORE INSERT OR UPDATE "
        "OR DELETE ON record_occupancy FOR EACH ROW EXECUTE FUNCTION record_occupancy_guard()"
    }
    for source in SOURCES:
        name = f"record_{source.name}_occupies"
        made[name] = (
            f"CREATE TRIGGER {name} AFTER INSERT OR UPDATE OR DELETE ON {source.table} "
            f"FOR EACH ROW EXECUTE FUNCTION {name}()"
        )
        made[f"{name}_all"] = (
            f"CREATE TRIGGER {name}_all AFTER TRUNCATE ON {source.table} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION {name}()"
        )
    return made


def install() -> list[str]:
    """Statements that put views, functions and triggers in place."""
    return [
        *(f"CREATE VIEW {view(source)} AS {due(source, POSTGRES)}" for source in SOURCES),
        *(function(source) for source in SOURCES),
        guard(),
        *triggers().values(),
    ]


def remove() -> list[str]:
    """Statements that take them away, wherever they are."""
    return [
        "DROP FUNCTION IF EXISTS record_occupancy_guard() CASCADE",
        *(f"DROP FUNCTION IF EXISTS record_{source.name}_occupies() CASCADE" for source in SOURCES),
        *(f"DROP VIEW IF EXISTS {view(source)}" for source in SOURCES),
    ]


PRESENT = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
