"""A batch that is made as an earlier one was: its steps are offered as they were then."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Let a batch name the one it is made as; none of those from before does."""
    with op.batch_alter_table("batch", recreate="always") as table:
        table.add_column(sa.Column("as_batch_id", sa.Integer(), nullable=True))
        table.create_foreign_key(op.f("fk_batch_as_batch_id_batch"), "batch", ["as_batch_id"], ["id"])
