"""Hours that may be unset, the usual start, the address; a jet, a damp mix, and gas by the burner's setting."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0006"
down_revision = "0004"
branch_labels = None
depends_on = None

BEFORE = {"opens_at": "08:00:00.000000", "leaves_at": "18:00:00.000000"}
LENGTH = "BETWEEN 0 AND 100"
SECONDS = "BETWEEN 0 AND 10000000"
NUMBER = "BETWEEN -1000000000 AND 1000000000"


def upgrade() -> None:
    """Give shop, forge, mix and weighings what they may say; hours that nobody typed become unset."""
    _free_the_shops_hours()
    _add("forge", (("jet_m", LENGTH),))
    _add("mix", (("water_percent", "BETWEEN 0 AND 100"),))
    _add("gasweighing", (("gauge_Pa", NUMBER), ("second_lit_s", SECONDS), ("second_gauge_Pa", NUMBER)))
    _add_words("gasweighing", ("valve", "second_valve"))
    _add_words("plansupplies", ("valve",))


def _free_the_shops_hours() -> None:
    with op.batch_alter_table("shop", recreate="always") as table:
        for name in BEFORE:
            table.alter_column(name, existing_type=sa.Time(), nullable=True)
        table.add_column(sa.Column("starts_at", sa.Time(), nullable=True))
    unset = ", ".join(f"{name} = NULL" for name in BEFORE)
    untouched = " AND ".join(f"{name} = '{usual}'" for name, usual in BEFORE.items())
    op.execute(f"UPDATE shop SET {unset} WHERE {untouched}")
    _add_words("shop", ("address",))


def _add(table_name: str, columns: tuple[tuple[str, str], ...]) -> None:
    with op.batch_alter_table(table_name, recreate="always") as table:
        for name, limits in columns:
            table.add_column(sa.Column(name, sa.Float(), nullable=True))
            table.create_check_constraint(op.f(f"ck_{table_name}_{name}_range"), f'"{name}" {limits}')


def _add_words(table_name: str, names: tuple[str, ...]) -> None:
    words = sqlmodel.sql.sqltypes.AutoString()
    with op.batch_alter_table(table_name, recreate="always") as table:
        for name in names:
            table.add_column(sa.Column(name, words, nullable=False, server_default=""))
    with op.batch_alter_table(table_name, recreate="always") as table:
        for name in names:
            table.alter_column(name, server_default=None)
