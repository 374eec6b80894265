"""What alembic runs: the steps, within the transaction of whoever moves the tables."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
context.run_migrations()
