"""What a plan changed when it was given to the crew."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_DOCUMENT = sa.JSON().with_variant(postgresql.JSONB(), "postgresql")


def upgrade() -> None:
    """Bring the schema up."""
    with op.batch_alter_table("plan", schema=None) as batch_op:
        batch_op.add_column(sa.Column("given", _DOCUMENT, nullable=True))


def downgrade() -> None:
    """Take the schema back."""
    with op.batch_alter_table("plan", schema=None) as batch_op:
        batch_op.drop_column("given")
