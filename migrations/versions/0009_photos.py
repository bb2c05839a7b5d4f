"""Photos of a piece or of a batch: what is known of each; the pictures lie beside the logbook."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0009"
down_revision = "0007"
branch_labels = None
depends_on = None

OWNERS = ("item", "batch", "reading")


def upgrade() -> None:
    """Add the table of photos; a logbook that comes from before has none."""
    op.create_table(
        "photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("updated_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("deleted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=True),
        sa.Column("batch_id", sa.Integer(), nullable=True),
        sa.Column("sha256", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.Column("width_px", sa.Integer(), nullable=False),
        sa.Column("height_px", sa.Integer(), nullable=False),
        sa.Column("caption", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("reading_id", sa.Integer(), nullable=True),
        sa.Column("measured", sa.JSON(), nullable=False),
        sa.CheckConstraint("length(note) <= 100000", name=op.f("ck_photo_note_length")),
        sa.CheckConstraint("(batch_id IS NULL) <> (item_id IS NULL)", name=op.f("ck_photo_one_owner")),
        sa.CheckConstraint("length(sha256) = 64", name=op.f("ck_photo_hash_length")),
        sa.CheckConstraint(
            "size_bytes > 0 AND width_px > 0 AND height_px > 0", name=op.f("ck_photo_has_size")
        ),
        *(
            sa.ForeignKeyConstraint(
                [f"{owner}_id"], [f"{owner}.id"], name=op.f(f"fk_photo_{owner}_id_{owner}")
            )
            for owner in OWNERS
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
    )
    with op.batch_alter_table("photo", schema=None) as batch_op:
        for column in ("sha256", *(f"{owner}_id" for owner in OWNERS)):
            batch_op.create_index(batch_op.f(f"ix_photo_{column}"), [column], unique=False)
