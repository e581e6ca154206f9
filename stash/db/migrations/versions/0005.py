"""Photos of designs too, each once, in an order of the owner's."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("DELETE FROM photos WHERE id NOT IN (SELECT min(id) FROM photos GROUP BY code, sha256)")
    with op.batch_alter_table("photos", schema=None) as batch_op:
        batch_op.alter_column("code", existing_type=sa.Text(), nullable=True)
        batch_op.add_column(sa.Column("design", sa.Text(), nullable=True))
        batch_op.add_column(sa.Column("ordinal", sa.Integer(), server_default="0", nullable=False))
        batch_op.add_column(sa.Column("added_by", sa.Text(), nullable=True))
        batch_op.create_foreign_key(
            op.f("fk_photos_design"),
            "designs",
            ["design"],
            ["key"],
            onupdate="CASCADE",
            initially="DEFERRED",
            deferrable=True,
        )
        batch_op.create_check_constraint(op.f("ck_photos_of_one_thing"), "(code IS NULL) <> (design IS NULL)")
        batch_op.create_index(op.f("ix_photos_code_photos_sha256"), ["code", "sha256"], unique=True)
        batch_op.create_index(op.f("ix_photos_design_photos_sha256"), ["design", "sha256"], unique=True)
    op.execute("UPDATE photos SET ordinal = id")


def downgrade() -> None:
    raise NotImplementedError("go back with the copy of the file made before the migration")
