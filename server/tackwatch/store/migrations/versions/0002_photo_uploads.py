"""Photos that are on their way."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the schema up."""
    op.create_table(
        "photo_upload",
        sa.Column("device_id", sa.String(length=12), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("size_b", sa.BigInteger(), nullable=False),
        sa.Column("keep_metadata", sa.Boolean(), nullable=False),
        sa.Column("expires_at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_photo_upload_device_id")
        ),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_photo_upload_refit_id")),
        sa.PrimaryKeyConstraint("device_id", "sha256", name=op.f("pk_photo_upload")),
    )
    with op.batch_alter_table("photo_upload", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_photo_upload_refit_id"), ["refit_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_photo_upload_expires_at"), ["expires_at"], unique=False
        )


def downgrade() -> None:
    """Take the schema back."""
    with op.batch_alter_table("photo_upload", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_photo_upload_expires_at"))
        batch_op.drop_index(batch_op.f("ix_photo_upload_refit_id"))

    op.drop_table("photo_upload")
