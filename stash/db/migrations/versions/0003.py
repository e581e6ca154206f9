"""Counts known only roughly, and kinds that stay together as a matched set."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("kinds", sa.Column("matched_set", sa.Text(), nullable=True))
    op.add_column("lots", sa.Column("about", sa.Boolean(), nullable=True))


def downgrade() -> None:
    raise NotImplementedError("go back with the copy of the file made before the migration")
