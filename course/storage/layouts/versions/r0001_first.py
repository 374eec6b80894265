"""Events, heads, what is true now, and a centre's settings: the tables as 0.2.0 makes them."""

from pathlib import Path

from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make them in an empty database; the statements stand beside this file, one for each kind."""
    connection = op.get_bind()
    file = Path(__file__).with_name(f"r0001.{connection.dialect.name}.sql")
    for statement in file.read_text("utf-8").split("\n\n"):
        connection.exec_driver_sql(statement.strip())
