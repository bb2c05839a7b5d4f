"""When the shop opens and when one leaves, so that a schedule puts no lit fire after it."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

USUAL = {"opens_at": "08:00:00.000000", "leaves_at": "18:00:00.000000"}


def upgrade() -> None:
    """Give the shop its hours; one that was set up before has the usual ones."""
    with op.batch_alter_table("shop", recreate="always") as table:
        for name, usual in USUAL.items():
            table.add_column(sa.Column(name, sa.Time(), nullable=False, server_default=usual))
        table.create_check_constraint(op.f("ck_shop_opens_before_leaving"), "opens_at < leaves_at")
    with op.batch_alter_table("shop", recreate="always") as table:
        for name in USUAL:
            table.alter_column(name, server_default=None)
