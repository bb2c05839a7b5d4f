"""Lines of a shop's own, what is asked and what was answered; and which event of a batch a photo is of."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None

BEAR_THEM = ("part", "bar", "batch", "item")


def upgrade() -> None:
    """Make room for lines of one's own, of which there is none yet; no photo is of one event so far."""
    op.create_table(
        "ownline",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("updated_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("deleted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("about", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("label", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("choices", sa.JSON(), nullable=False),
        sa.Column("is_copied", sa.Boolean(), nullable=False),
        sa.Column("is_retired", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "\"about\" IN ('part', 'piece', 'batch', 'bar')", name=op.f("ck_ownline_about_word")
        ),
        sa.CheckConstraint(
            "\"kind\" IN ('words', 'number', 'yes_no', 'choice')", name=op.f("ck_ownline_kind_word")
        ),
        sa.CheckConstraint("length(note) <= 100000", name=op.f("ck_ownline_note_length")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ownline")),
    )
    for name in BEAR_THEM:
        with op.batch_alter_table(name, recreate="always") as table:
            table.add_column(sa.Column("own_lines", sa.JSON(), nullable=False, server_default="{}"))
        with op.batch_alter_table(name, recreate="always") as table:
            table.alter_column("own_lines", server_default=None)
    with op.batch_alter_table("photo", recreate="always") as table:
        table.add_column(sa.Column("event_id", sa.Integer(), nullable=True))
        table.create_foreign_key(op.f("fk_photo_event_id_event"), "event", ["event_id"], ["id"])
        table.create_index(op.f("ix_photo_event_id"), ["event_id"], unique=False)
