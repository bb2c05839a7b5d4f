"""Reminders tied to use: what is to be done, after how many uses of what, or after how many days."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make room for reminders; there is none until somebody asks for one."""
    op.create_table(
        "reminder",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("updated_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("deleted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("what", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("list_key", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("thing_id", sa.Integer(), nullable=True),
        sa.Column("after_uses", sa.Integer(), nullable=True),
        sa.Column("after_days", sa.Integer(), nullable=True),
        sa.Column("done_on", sa.Date(), nullable=False),
        sa.CheckConstraint("length(note) <= 100000", name=op.f("ck_reminder_note_length")),
        sa.CheckConstraint(
            "coalesce(after_uses, after_days, 0) >= 1 AND coalesce(after_days, 1) >= 1",
            name=op.f("ck_reminder_comes_due"),
        ),
        sa.CheckConstraint(
            "(after_uses IS NULL) OR (thing_id IS NOT NULL)", name=op.f("ck_reminder_uses_of_a_thing")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reminder")),
    )
