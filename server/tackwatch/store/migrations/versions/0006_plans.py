"""Plans, and what the planner last saw of each refit."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

_DOCUMENT = sa.JSON().with_variant(postgresql.JSONB(), "postgresql")
_OPEN = sa.text("state IN ('asked', 'running')")


def upgrade() -> None:
    """Bring the schema up."""
    op.create_table(
        "plan",
        sa.Column("plan_id", sa.String(length=40), nullable=False),
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("rev", sa.BigInteger(), nullable=False),
        sa.Column("asked_at", sa.BigInteger(), nullable=False),
        sa.Column("asked_by", sa.String(length=40), nullable=True),
        sa.Column("why", _DOCUMENT, nullable=False),
        sa.Column("seconds", sa.Integer(), nullable=False),
        sa.Column("claimed_by", sa.String(length=80), nullable=True),
        sa.Column("lease_until", sa.BigInteger(), nullable=True),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("progress", _DOCUMENT, nullable=True),
        sa.Column("based_on", sa.BigInteger(), nullable=True),
        sa.Column("basis", sa.Text(), nullable=True),
        sa.Column("result", sa.Text(), nullable=True),
        sa.Column("done_at", sa.BigInteger(), nullable=True),
        sa.Column("published_at", sa.BigInteger(), nullable=True),
        sa.Column("published_by", sa.String(length=40), nullable=True),
        sa.Column("published_id", sa.String(length=40), nullable=True),
        sa.Column("problem", _DOCUMENT, nullable=True),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_plan_refit_id")),
        sa.PrimaryKeyConstraint("plan_id", name=op.f("pk_plan")),
    )
    with op.batch_alter_table("plan", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_plan_refit_id_asked_at"), ["refit_id", "asked_at"], unique=False
        )
        batch_op.create_index(
            "ix_plan_open", ["refit_id"], unique=True, sqlite_where=_OPEN, postgresql_where=_OPEN
        )
    op.create_table(
        "plan_watch",
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("rev", sa.BigInteger(), nullable=False),
        sa.Column("seen_seq", sa.BigInteger(), nullable=False),
        sa.Column("changed_at", sa.BigInteger(), nullable=True),
        sa.Column("quiet_from", sa.BigInteger(), nullable=True),
        sa.Column("look_at", sa.BigInteger(), nullable=True),
        sa.Column("basis", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_plan_watch_refit_id")),
        sa.PrimaryKeyConstraint("refit_id", name=op.f("pk_plan_watch")),
    )


def downgrade() -> None:
    """Take the schema back."""
    op.drop_table("plan_watch")
    with op.batch_alter_table("plan", schema=None) as batch_op:
        batch_op.drop_index("ix_plan_open")
        batch_op.drop_index(batch_op.f("ix_plan_refit_id_asked_at"))
    op.drop_table("plan")
