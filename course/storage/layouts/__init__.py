"""The layouts that a database's tables have had, as revisions of alembic; `course.storage.layout` moves along them."""
