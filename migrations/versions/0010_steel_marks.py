"""Marks that survive the fire: what is cut into a piece, and the kind that a shop cuts by habit."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

COLUMNS = {"item": ("steel_mark", "steel_sign", "steel_place"), "shop": ("mark_habit",)}
CHECKED = {"item": "steel_mark", "shop": "mark_habit"}


def upgrade() -> None:
    """Give pieces and the shop empty marks: none is noted of what was hardened before."""
    for name, columns in COLUMNS.items():
        with op.batch_alter_table(name, recreate="always") as table:
            for column in columns:
                text = sqlmodel.sql.sqltypes.AutoString()
                table.add_column(sa.Column(column, text, nullable=False, server_default=""))
            checked = CHECKED[name]
            table.create_check_constraint(
                op.f(f"ck_{name}_{checked}_word"), f"\"{checked}\" IN ('', 'notches', 'dots', 'stamp')"
            )
        with op.batch_alter_table(name, recreate="always") as table:
            for column in columns:
                table.alter_column(column, server_default=None)
