"""Persons' addresses, codes that were sent to them, and what their calendars last had."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the schema up."""
    op.create_table(
        "address",
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("target", sa.String(length=2000), nullable=False),
        sa.Column("secret", sa.String(length=100), nullable=False),
        sa.Column("token_hash", sa.String(length=64), nullable=True),
        sa.Column("with_calendar", sa.Boolean(), nullable=False),
        sa.Column("code_hash", sa.String(length=64), nullable=True),
        sa.Column("code_until", sa.BigInteger(), nullable=True),
        sa.Column("code_tries", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("confirmed_at", sa.BigInteger(), nullable=True),
        sa.Column("trouble", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_address_refit_id")),
        sa.PrimaryKeyConstraint("refit_id", "member_id", "kind", name=op.f("pk_address")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_address_token_hash")),
    )
    op.create_table(
        "sent_code",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("target", sa.String(length=2000), nullable=False),
        sa.Column("sent_at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_sent_code_refit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sent_code")),
    )
    with op.batch_alter_table("sent_code", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sent_code_sent_at"), ["sent_at"], unique=False)
    op.create_table(
        "calendar_entry",
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("alarm_id", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("due_at", sa.BigInteger(), nullable=False),
        sa.Column("useless_after", sa.BigInteger(), nullable=False),
        sa.Column(
            "params", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False
        ),
        sa.Column("acknowledged_at", sa.BigInteger(), nullable=True),
        sa.Column("cancelled", sa.Boolean(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("changed_at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["refit_id"], ["refit.id"], name=op.f("fk_calendar_entry_refit_id")
        ),
        sa.PrimaryKeyConstraint(
            "refit_id", "member_id", "alarm_id", name=op.f("pk_calendar_entry")
        ),
    )


def downgrade() -> None:
    """Take the schema back."""
    op.drop_table("calendar_entry")
    with op.batch_alter_table("sent_code", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sent_code_sent_at"))
    op.drop_table("sent_code")
    op.drop_table("address")
