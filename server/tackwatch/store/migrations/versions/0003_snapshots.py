"""Prepared snapshots, and since when an item is there."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the schema up."""
    op.create_table(
        "snapshot_page",
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("version", sa.String(length=40), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("pages", sa.Integer(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_snapshot_page_refit_id")),
        sa.PrimaryKeyConstraint("refit_id", "version", "number", name=op.f("pk_snapshot_page")),
    )
    op.add_column(
        "item", sa.Column("seq_made", sa.BigInteger(), nullable=False, server_default="0")
    )
    # Not known any more: the number of the last change is late enough.
    op.execute("UPDATE item SET seq_made = seq")


def downgrade() -> None:
    """Take the schema back."""
    with op.batch_alter_table("item") as batch_op:
        batch_op.drop_column("seq_made")
    op.drop_table("snapshot_page")
