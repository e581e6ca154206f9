"""A text for each thing that can be looked for, and an index of its trigrams where the engine has one."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.exc import DBAPIError

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

SQLITE = (
    """
    CREATE VIRTUAL TABLE findable_trigrams
    USING fts5(text, content='findable', content_rowid='id', tokenize='trigram')
    """,
    """
    CREATE TRIGGER findable_added AFTER INSERT ON findable BEGIN
        INSERT INTO findable_trigrams(rowid, text) VALUES (new.id, new.text);
    END
    """,
    """
    CREATE TRIGGER findable_gone AFTER DELETE ON findable BEGIN
        INSERT INTO findable_trigrams(findable_trigrams, rowid, text) VALUES ('delete', old.id, old.text);
    END
    """,
    """
    CREATE TRIGGER findable_changed AFTER UPDATE ON findable BEGIN
        INSERT INTO findable_trigrams(findable_trigrams, rowid, text) VALUES ('delete', old.id, old.text);
        INSERT INTO findable_trigrams(rowid, text) VALUES (new.id, new.text);
    END
    """,
)
POSTGRES = (
    "CREATE EXTENSION IF NOT EXISTS pg_trgm",
    "CREATE INDEX ix_findable_trigrams ON findable USING gin (text gin_trgm_ops)",
)


def upgrade() -> None:
    op.create_table(
        "findable",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=False, nullable=False),
        sa.Column("type", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_findable")),
    )
    op.create_index("ix_findable_type_key", "findable", ["type", "key"], unique=True)
    connection = op.get_bind()
    try:
        with connection.begin_nested():
            for statement in SQLITE if connection.dialect.name == "sqlite" else POSTGRES:
                connection.exec_driver_sql(statement)
    except DBAPIError:
        pass  # no FTS5, or no right to create the extension: texts are scanned, and `verify` says so


def downgrade() -> None:
    raise NotImplementedError("go back with the copy of the file made before the migration")
