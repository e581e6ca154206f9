"""Where classes by displacement end."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "law_lines",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("up_to_cm3", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("version", sa.Integer(), server_default="1", nullable=False),
        sa.CheckConstraint(
            '"up_to_cm3" >= 1000000 AND "up_to_cm3" <= 100000000000', name=op.f("ck_law_lines_up_to_cm3")
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_law_lines")),
    )


def downgrade() -> None:
    raise NotImplementedError("go back with the copy of the file made before the migration")
