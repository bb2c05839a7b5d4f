"""The label sheets that a shop prints its tags on: their sizes, remembered."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Give the shop an empty label sheet: the usual one is offered."""
    with op.batch_alter_table("shop", recreate="always") as table:
        table.add_column(sa.Column("label_sheet", sa.JSON(), nullable=False, server_default="{}"))
    with op.batch_alter_table("shop", recreate="always") as table:
        table.alter_column("label_sheet", server_default=None)
