"""Remember what shelf sessions added."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "shelf_adds",
        sa.Column("token", sa.Text(), nullable=False),
        sa.Column("sitting", sa.Text(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("lot", sa.Text(), nullable=True),
        sa.Column("batch", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["batch"],
            ["batches.id"],
            name=op.f("fk_shelf_adds_batch"),
            onupdate="CASCADE",
            initially="DEFERRED",
            deferrable=True,
        ),
        sa.PrimaryKeyConstraint("token", name=op.f("pk_shelf_adds")),
    )
    with op.batch_alter_table("shelf_adds", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_shelf_adds_batch"), ["batch"], unique=False)
        batch_op.create_index(batch_op.f("ix_shelf_adds_sitting"), ["sitting"], unique=False)


def downgrade() -> None:
    raise NotImplementedError("go back with the copy of the file made before the migration")
