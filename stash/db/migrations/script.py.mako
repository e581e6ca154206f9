# ruff: noqa: E501, PLR0915 - drafted by Alembic from the mapped classes
"""${message}."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = None
depends_on = None


def upgrade() -> None:
    ${upgrades if upgrades else "pass"}


def downgrade() -> None:
    raise NotImplementedError("go back with the copy of the file made before the migration")
