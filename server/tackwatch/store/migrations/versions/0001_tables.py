"""All tables of the first version."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

DOCUMENT = sa.JSON().with_variant(postgresql.JSONB(), "postgresql")
BIG_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Bring the schema up."""
    op.create_table(
        "keyring",
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_keyring")),
    )
    op.create_table(
        "refit",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("epoch", sa.String(length=40), nullable=False),
        sa.Column("last_stamp", sa.String(length=40), nullable=False),
        sa.Column("recovery_hash", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_refit")),
    )
    op.create_table(
        "alarm",
        sa.Column("id", BIG_ID, autoincrement=True, nullable=False),
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("alarm_id", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("source_id", sa.String(length=40), nullable=False),
        sa.Column("due_at", sa.BigInteger(), nullable=False),
        sa.Column("useless_after", sa.BigInteger(), nullable=False),
        sa.Column("params", DOCUMENT, nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("claimed_by", sa.String(length=80), nullable=True),
        sa.Column("lease_until", sa.BigInteger(), nullable=True),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("told_at", sa.BigInteger(), nullable=True),
        sa.Column("seen_at", sa.BigInteger(), nullable=True),
        sa.Column("outcome", DOCUMENT, nullable=False),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_alarm_refit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alarm")),
        sa.UniqueConstraint(
            "refit_id", "member_id", "alarm_id", name=op.f("uq_alarm_refit_id_member_id_alarm_id")
        ),
    )
    with op.batch_alter_table("alarm", schema=None) as batch_op:
        batch_op.create_index(
            "ix_alarm_due",
            ["due_at"],
            unique=False,
            sqlite_where=sa.text("state = 'due'"),
            postgresql_where=sa.text("state = 'due'"),
        )
        batch_op.create_index(
            "ix_alarm_lease",
            ["lease_until"],
            unique=False,
            sqlite_where=sa.text("state = 'claimed'"),
            postgresql_where=sa.text("state = 'claimed'"),
        )
        batch_op.create_index("ix_alarm_told", ["refit_id", "told_at"], unique=False)

    op.create_table(
        "device",
        sa.Column("id", sa.String(length=12), nullable=False),
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("key_hash", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.BigInteger(), nullable=False),
        sa.Column("last_seen_at", sa.BigInteger(), nullable=True),
        sa.Column("revoked_at", sa.BigInteger(), nullable=True),
        sa.Column("last_n", sa.BigInteger(), nullable=False),
        sa.Column("last_stamp", sa.String(length=40), nullable=False),
        sa.Column("whole_until", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_device_refit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_device")),
        sa.UniqueConstraint("key_hash", name=op.f("uq_device_key_hash")),
    )
    with op.batch_alter_table("device", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_device_refit_id"), ["refit_id"], unique=False)

    op.create_table(
        "difference",
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("id", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("item_id", sa.String(length=40), nullable=False),
        sa.Column("field", sa.String(length=40), nullable=False),
        sa.Column("kept", DOCUMENT, nullable=False),
        sa.Column("lost", DOCUMENT, nullable=False),
        sa.Column("settled", sa.String(length=40), nullable=True),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_difference_refit_id")),
        sa.PrimaryKeyConstraint("refit_id", "id", name=op.f("pk_difference")),
    )
    with op.batch_alter_table("difference", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_difference_refit_id_item_id"), ["refit_id", "item_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_difference_refit_id_seq"), ["refit_id", "seq"], unique=False
        )

    op.create_table(
        "invite",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.BigInteger(), nullable=False),
        sa.Column("expires_at", sa.BigInteger(), nullable=False),
        sa.Column("claimed_at", sa.BigInteger(), nullable=True),
        sa.Column("revoked_at", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_invite_refit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_invite")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_invite_token_hash")),
    )
    with op.batch_alter_table("invite", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_invite_refit_id"), ["refit_id"], unique=False)

    op.create_table(
        "item",
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("fields", DOCUMENT, nullable=False),
        sa.Column("stamps", DOCUMENT, nullable=False),
        sa.Column("sets", DOCUMENT, nullable=False),
        sa.Column("gone", sa.Boolean(), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("seq_others", sa.BigInteger(), nullable=False),
        sa.Column("writer", sa.String(length=12), nullable=True),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_item_refit_id")),
        sa.PrimaryKeyConstraint("refit_id", "id", name=op.f("pk_item")),
    )
    with op.batch_alter_table("item", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_item_refit_id_kind"), ["refit_id", "kind"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_item_refit_id_seq"), ["refit_id", "seq"], unique=False)

    op.create_table(
        "photo_file",
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("media_type", sa.String(length=40), nullable=False),
        sa.Column("size_b", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_photo_file_refit_id")),
        sa.PrimaryKeyConstraint("refit_id", "sha256", name=op.f("pk_photo_file")),
    )
    op.create_table(
        "record",
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("body", DOCUMENT, nullable=False),
        sa.Column("replaces", sa.String(length=40), nullable=True),
        sa.Column("void", sa.Boolean(), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("writer", sa.String(length=12), nullable=True),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_record_refit_id")),
        sa.PrimaryKeyConstraint("refit_id", "id", name=op.f("pk_record")),
    )
    with op.batch_alter_table("record", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_record_refit_id_kind"), ["refit_id", "kind"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_record_refit_id_seq"), ["refit_id", "seq"], unique=False
        )

    op.create_table(
        "operation",
        sa.Column("device_id", sa.String(length=12), nullable=False),
        sa.Column("n", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("received_at", sa.BigInteger(), nullable=False),
        sa.Column("sent", sa.String(length=40), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("act", sa.String(length=40), nullable=False),
        sa.Column("actions", DOCUMENT, nullable=False),
        sa.Column("refusal", DOCUMENT, nullable=True),
        sa.ForeignKeyConstraint(["device_id"], ["device.id"], name=op.f("fk_operation_device_id")),
        sa.ForeignKeyConstraint(["refit_id"], ["refit.id"], name=op.f("fk_operation_refit_id")),
        sa.PrimaryKeyConstraint("device_id", "n", name=op.f("pk_operation")),
    )
    with op.batch_alter_table("operation", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_operation_refit_id_at"), ["refit_id", "at"], unique=False
        )

    op.create_table(
        "push_subscription",
        sa.Column("device_id", sa.String(length=12), nullable=False),
        sa.Column("refit_id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("endpoint", sa.String(length=2000), nullable=False),
        sa.Column("p256dh", sa.String(length=200), nullable=False),
        sa.Column("auth", sa.String(length=100), nullable=False),
        sa.Column("created_at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_push_subscription_device_id")
        ),
        sa.ForeignKeyConstraint(
            ["refit_id"], ["refit.id"], name=op.f("fk_push_subscription_refit_id")
        ),
        sa.PrimaryKeyConstraint("device_id", name=op.f("pk_push_subscription")),
    )
    with op.batch_alter_table("push_subscription", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_push_subscription_refit_id_member_id"),
            ["refit_id", "member_id"],
            unique=False,
        )


def downgrade() -> None:
    """Take the schema back."""
    with op.batch_alter_table("push_subscription", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_push_subscription_refit_id_member_id"))

    op.drop_table("push_subscription")
    with op.batch_alter_table("operation", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_operation_refit_id_at"))

    op.drop_table("operation")
    with op.batch_alter_table("record", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_record_refit_id_seq"))
        batch_op.drop_index(batch_op.f("ix_record_refit_id_kind"))

    op.drop_table("record")
    op.drop_table("photo_file")
    with op.batch_alter_table("item", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_item_refit_id_seq"))
        batch_op.drop_index(batch_op.f("ix_item_refit_id_kind"))

    op.drop_table("item")
    with op.batch_alter_table("invite", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_invite_refit_id"))

    op.drop_table("invite")
    with op.batch_alter_table("difference", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_difference_refit_id_seq"))
        batch_op.drop_index(batch_op.f("ix_difference_refit_id_item_id"))

    op.drop_table("difference")
    with op.batch_alter_table("device", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_device_refit_id"))

    op.drop_table("device")
    with op.batch_alter_table("alarm", schema=None) as batch_op:
        batch_op.drop_index("ix_alarm_told")
        batch_op.drop_index(
            "ix_alarm_lease",
            sqlite_where=sa.text("state = 'claimed'"),
            postgresql_where=sa.text("state = 'claimed'"),
        )
        batch_op.drop_index(
            "ix_alarm_due",
            sqlite_where=sa.text("state = 'due'"),
            postgresql_where=sa.text("state = 'due'"),
        )

    op.drop_table("alarm")
    op.drop_table("refit")
    op.drop_table("keyring")
