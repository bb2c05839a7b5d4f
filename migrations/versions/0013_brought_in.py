"""What was brought in from a spreadsheet: which file, and the batches that came of it."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make room for the files that are brought in; none was until now."""
    op.create_table(
        "broughtin",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("updated_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("deleted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("file_name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("sha256", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("batch_ids", sa.JSON(), nullable=False),
        sa.CheckConstraint("length(note) <= 100000", name=op.f("ck_broughtin_note_length")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_broughtin")),
    )
    op.create_index(op.f("ix_broughtin_sha256"), "broughtin", ["sha256"])
