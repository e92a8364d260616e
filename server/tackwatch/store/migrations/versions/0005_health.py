"""Heartbeats of the alarm processes, counts of what was sent, and who took whose address away."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Bring the schema up."""
    op.create_table(
        "heartbeat",
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("started_at", sa.BigInteger(), nullable=False),
        sa.Column("beat_at", sa.BigInteger(), nullable=False),
        sa.Column("next_beat_by", sa.BigInteger(), nullable=False),
        sa.Column("ended_at", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_heartbeat")),
    )
    op.create_table(
        "tally",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("day", sa.String(length=10), nullable=False),
        sa.Column("channel", sa.String(length=12), nullable=False),
        sa.Column("result", sa.String(length=12), nullable=False),
        sa.Column("late_le", sa.String(length=8), nullable=False),
        sa.Column("count", sa.BigInteger(), nullable=False),
        sa.Column("late_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tally")),
    )
    with op.batch_alter_table("tally", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_tally_refit_id_day"), ["refit_id", "day"], unique=False)
    op.create_table(
        "address_removal",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("phone_id", sa.String(length=12), nullable=True),
        sa.Column("by_member_id", sa.String(length=40), nullable=False),
        sa.Column("by_device_id", sa.String(length=12), nullable=False),
        sa.Column("removed_at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["refit_id"], ["refit.id"], name=op.f("fk_address_removal_refit_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_address_removal")),
    )
    with op.batch_alter_table("address_removal", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_address_removal_refit_id_member_id"), ["refit_id", "member_id"], unique=False
        )


def downgrade() -> None:
    """Take the schema back."""
    with op.batch_alter_table("address_removal", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_address_removal_refit_id_member_id"))
    op.drop_table("address_removal")
    with op.batch_alter_table("tally", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_tally_refit_id_day"))
    op.drop_table("tally")
    op.drop_table("heartbeat")
