"""Remember flat sheets."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "sheets",
        sa.Column("fingerprint", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("columns", sa.JSON(), nullable=False),
        sa.Column("answers", sa.JSON(), nullable=False),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("fingerprint", name=op.f("pk_sheets")),
    )
    op.create_table(
        "sheet_rows",
        sa.Column("sheet", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("lot", sa.Text(), nullable=False),
        sa.Column("wrote", sa.JSON(), nullable=False),
        sa.Column("batch", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["batch"],
            ["batches.id"],
            name=op.f("fk_sheet_rows_batch"),
            onupdate="CASCADE",
            initially="DEFERRED",
            deferrable=True,
        ),
        sa.ForeignKeyConstraint(
            ["sheet"],
            ["sheets.fingerprint"],
            name=op.f("fk_sheet_rows_sheet"),
            onupdate="CASCADE",
            initially="DEFERRED",
            deferrable=True,
        ),
        sa.PrimaryKeyConstraint("sheet", "key", name=op.f("pk_sheet_rows")),
    )
    with op.batch_alter_table("sheet_rows", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sheet_rows_lot"), ["lot"], unique=False)


def downgrade() -> None:
    raise NotImplementedError("go back with the copy of the file made before the migration")
