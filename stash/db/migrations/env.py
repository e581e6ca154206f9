"""Alembic's environment: the connection is handed over by ``stash.db.upgrade``.

Expression indexes (``uq_..._identity``) are not reflected on SQLite: a migration that rebuilds one of those
tables in batch mode has to create them again itself.
"""

from __future__ import annotations

from typing import Any, Literal

import sqlalchemy as sa
from alembic import context

from stash.db.find_rows import is_ours
from stash.db.models import Base, Micro, Moment


def render_item(type_: str, item: Any, _context: Any) -> str | Literal[False]:
    """Draft with the plain types below ours, so that a migration never changes with the program."""
    if type_ == "type" and isinstance(item, Micro):
        return "sa.BigInteger()"
    if type_ == "type" and isinstance(item, Moment):
        return "sa.DateTime(timezone=True)"
    if type_ == "type" and isinstance(item, sa.JSON):
        return "sa.JSON()"
    return False


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
    transactional_ddl=True,
    render_item=render_item,
    include_name=lambda name, _type, _parents: not is_ours(name),
)
with context.begin_transaction():
    context.run_migrations()
