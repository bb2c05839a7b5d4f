"""Indexes for long logbooks: the change record by what it is of, steps by what they were."""

from alembic import op

revision = "0018"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Find a record's changes, and the batches that went into the fire, without reading all there are."""
    op.drop_index("ix_change_table_name", table_name="change")
    op.drop_index("ix_change_record_id", table_name="change")
    op.create_index("ix_change_record", "change", ["table_name", "record_id"])
    op.create_index("ix_step_kind", "step", ["kind", "batch_id"])
