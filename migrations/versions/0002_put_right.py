"""A piece that is put right: a second life of its own, or a second box."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def _life() -> sa.Column[int]:
    return sa.Column("life", sa.Integer(), nullable=False, server_default="1")


def upgrade() -> None:
    """Give pieces, steps and readings a life, and a piece the one it came from."""
    with op.batch_alter_table("item", recreate="always") as table:
        table.add_column(sa.Column("from_item_id", sa.Integer(), nullable=True))
        table.add_column(_life())
        table.add_column(sa.Column("remedy", sa.JSON(), nullable=False, server_default="{}"))
        table.add_column(
            sa.Column("scrapped_why", sqlmodel.sql.sqltypes.AutoString(), nullable=False, server_default="")
        )
        table.create_foreign_key(op.f("fk_item_from_item_id_item"), "item", ["from_item_id"], ["id"])
        table.create_index(op.f("ix_item_from_item_id"), ["from_item_id"])
    for name in ("step", "reading"):
        with op.batch_alter_table(name, recreate="always") as table:
            table.add_column(_life())
    _without_defaults()


def _without_defaults() -> None:
    """Take the defaults away that only the old rows needed."""
    with op.batch_alter_table("item", recreate="always") as table:
        for column in ("life", "remedy", "scrapped_why"):
            table.alter_column(column, server_default=None)
    for name in ("step", "reading"):
        with op.batch_alter_table(name, recreate="always") as table:
            table.alter_column("life", server_default=None)
