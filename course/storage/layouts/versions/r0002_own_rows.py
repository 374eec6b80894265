"""In a file, the guard against replacing an event asks by index; on a server, a login sees its own centres."""

from collections.abc import Iterator

from alembic import op

revision = "0002"
down_revision = "0001"

_SLOW = (
    "CREATE TRIGGER event_no_replace BEFORE INSERT ON event WHEN EXISTS (SELECT 1 FROM event "
    "WHERE pos = NEW.pos OR (centre = NEW.centre AND hash = NEW.hash)) "
    "OR (NEW.origin = 0 AND EXISTS (SELECT 1 FROM event WHERE origin = 0 AND centre = NEW.centre "
    "AND (id = NEW.id OR (chain = NEW.chain AND seq = NEW.seq)))) "
    "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END"
)
_BY_INDEX = (
    "CREATE TRIGGER event_no_replace BEFORE INSERT ON event "
    "WHEN EXISTS (SELECT 1 FROM event WHERE pos = NEW.pos) "
    "OR EXISTS (SELECT 1 FROM event WHERE centre = NEW.centre AND hash = NEW.hash) "
    "OR (NEW.origin = 0 AND EXISTS (SELECT 1 FROM event WHERE origin = 0 AND centre = NEW.centre AND id = NEW.id)) "
    "OR (NEW.origin = 0 AND EXISTS (SELECT 1 FROM event WHERE origin = 0 AND centre = NEW.centre "
    "AND chain = NEW.chain AND seq = NEW.seq)) "
    "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END"
)

_OWN = "(centre IN (SELECT own.centre FROM login AS own WHERE own.login = current_user::text))"


def upgrade() -> None:
    """Move from 0001."""
    connection = op.get_bind()
    if connection.dialect.name == "postgresql":
        for statement in _own_rows():
            connection.exec_driver_sql(statement)
        return
    asked = "SELECT sql FROM sqlite_schema WHERE type = 'trigger' AND name = 'event_no_replace'"
    if connection.exec_driver_sql(asked).scalar() == _SLOW:  # one that anybody else wrote is left for the check
        connection.exec_driver_sql("DROP TRIGGER event_no_replace")
        connection.exec_driver_sql(_BY_INDEX)


def _own_rows() -> Iterator[str]:
    yield (
        'CREATE TABLE login (login TEXT COLLATE "C" NOT NULL, centre TEXT COLLATE "C" NOT NULL, '
        "PRIMARY KEY (login, centre))"
    )
    # Whoever could read a centre goes on as before, until its owner takes the line away.
    yield (
        "INSERT INTO login SELECT role.rolname, own.centre FROM pg_roles AS role, "
        "(SELECT DISTINCT centre FROM meta) AS own WHERE role.rolcanlogin AND NOT role.rolsuper "
        "AND has_table_privilege(role.oid, 'event', 'SELECT') "
        "AND has_schema_privilege(role.oid, current_schema(), 'USAGE') AND role.rolname <> current_user"
    )
    yield "GRANT SELECT ON login, alembic_version TO PUBLIC"
    yield "ALTER TABLE login ENABLE ROW LEVEL SECURITY"
    yield "CREATE POLICY own_rows ON login FOR SELECT USING (login = current_user::text)"
    for table in ("event", "fact", "head", "meta"):
        yield f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY"
        yield f"CREATE POLICY own_centre ON {table} USING {_OWN}"
