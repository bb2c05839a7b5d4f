"""What was changed in the shop, and on which day: a lining, a thermocouple, the oil."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

THINGS = ("forge", "instrument", "box", "mix", "bath")
ONE_THING = " + ".join(f"({thing}_id IS NOT NULL)" for thing in THINGS) + " = 1"


def upgrade() -> None:
    """Add the table of dated changes; a logbook that comes from before has none."""
    op.create_table(
        "shopchange",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("updated_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("deleted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("changed_on", sa.Date(), nullable=False),
        *(sa.Column(f"{thing}_id", sa.Integer(), nullable=True) for thing in THINGS),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.CheckConstraint("length(note) <= 100000", name=op.f("ck_shopchange_note_length")),
        sa.CheckConstraint(ONE_THING, name=op.f("ck_shopchange_one_thing")),
        *(
            sa.ForeignKeyConstraint(
                [f"{thing}_id"], [f"{thing}.id"], name=op.f(f"fk_shopchange_{thing}_id_{thing}")
            )
            for thing in THINGS
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shopchange")),
    )
    with op.batch_alter_table("shopchange", schema=None) as batch_op:
        for column in ("changed_on", *(f"{thing}_id" for thing in THINGS)):
            batch_op.create_index(batch_op.f(f"ix_shopchange_{column}"), [column], unique=False)
