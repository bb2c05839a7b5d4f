"""What a run takes and what of a part stays soft: supplies, prices, gas weighed, soft areas."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Give mixes a weight, parts their soft area, and prices and supplies tables of their own."""
    _tell_what_a_litre_weighs()
    _tell_what_stays_soft()
    _add_prices()
    _add_gasweighing()
    _add_partprice()
    _add_plansupplies()


def _tell_what_a_litre_weighs() -> None:
    with op.batch_alter_table("mix", recreate="always") as table:
        table.add_column(sa.Column("litre_kg", sa.Float(), nullable=True))
        table.create_check_constraint(
            op.f("ck_mix_litre_kg_range"), '"litre_kg" BETWEEN -1000000000 AND 1000000000'
        )


def _tell_what_stays_soft() -> None:
    words = ("soft_area", "soft_kept")
    with op.batch_alter_table("part", recreate="always") as table:
        for name in words:
            table.add_column(
                sa.Column(name, sqlmodel.sql.sqltypes.AutoString(), nullable=False, server_default="")
            )
        table.add_column(sa.Column("soft_stock_m", sa.Float(), nullable=True))
        table.create_check_constraint(op.f("ck_part_soft_stock_m_range"), '"soft_stock_m" BETWEEN 0 AND 100')
    with op.batch_alter_table("part", recreate="always") as table:
        for name in words:
            table.alter_column(name, server_default=None)


def _add_prices() -> None:
    op.create_table(
        "prices",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("updated_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("deleted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("money", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("gas_per_kg", sa.Float(), nullable=True),
        sa.Column("charcoal_per_kg", sa.Float(), nullable=True),
        sa.Column("carbonate_per_kg", sa.Float(), nullable=True),
        sa.Column("luting", sa.Float(), nullable=True),
        sa.Column("hour", sa.Float(), nullable=True),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            '"carbonate_per_kg" BETWEEN -1000000000 AND 1000000000',
            name=op.f("ck_prices_carbonate_per_kg_range"),
        ),
        sa.CheckConstraint(
            '"charcoal_per_kg" BETWEEN -1000000000 AND 1000000000',
            name=op.f("ck_prices_charcoal_per_kg_range"),
        ),
        sa.CheckConstraint(
            '"gas_per_kg" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_prices_gas_per_kg_range")
        ),
        sa.CheckConstraint('"hour" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_prices_hour_range")),
        sa.CheckConstraint(
            '"luting" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_prices_luting_range")
        ),
        sa.CheckConstraint("length(note) <= 100000", name=op.f("ck_prices_note_length")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_prices")),
    )


def _add_gasweighing() -> None:
    op.create_table(
        "gasweighing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("updated_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("deleted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("fire_id", sa.Integer(), nullable=False),
        sa.Column("before_kg", sa.Float(), nullable=False),
        sa.Column("after_kg", sa.Float(), nullable=True),
        sa.Column("lit_s", sa.Float(), nullable=True),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            '"after_kg" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_gasweighing_after_kg_range")
        ),
        sa.CheckConstraint(
            '"before_kg" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_gasweighing_before_kg_range")
        ),
        sa.CheckConstraint('"lit_s" BETWEEN 0 AND 10000000', name=op.f("ck_gasweighing_lit_s_range")),
        sa.CheckConstraint("length(note) <= 100000", name=op.f("ck_gasweighing_note_length")),
        sa.ForeignKeyConstraint(["fire_id"], ["fire.id"], name=op.f("fk_gasweighing_fire_id_fire")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gasweighing")),
    )
    with op.batch_alter_table("gasweighing", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_gasweighing_fire_id"), ["fire_id"], unique=False)


def _add_partprice() -> None:
    op.create_table(
        "partprice",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("updated_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("deleted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("plain_bar", sa.Float(), nullable=True),
        sa.Column("hardenable_bar", sa.Float(), nullable=True),
        sa.Column("hardening", sa.Float(), nullable=True),
        sa.Column("sent_out", sa.Float(), nullable=True),
        sa.Column("sent_out_s", sa.Float(), nullable=True),
        sa.Column("parts", sa.Integer(), nullable=False),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            '"hardenable_bar" BETWEEN -1000000000 AND 1000000000',
            name=op.f("ck_partprice_hardenable_bar_range"),
        ),
        sa.CheckConstraint(
            '"hardening" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_partprice_hardening_range")
        ),
        sa.CheckConstraint(
            '"plain_bar" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_partprice_plain_bar_range")
        ),
        sa.CheckConstraint(
            '"sent_out" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_partprice_sent_out_range")
        ),
        sa.CheckConstraint('"sent_out_s" BETWEEN 0 AND 10000000', name=op.f("ck_partprice_sent_out_s_range")),
        sa.CheckConstraint("length(note) <= 100000", name=op.f("ck_partprice_note_length")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_partprice_part_id_part")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_partprice")),
    )
    with op.batch_alter_table("partprice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_partprice_part_id"), ["part_id"], unique=False)


def _add_plansupplies() -> None:
    op.create_table(
        "plansupplies",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("updated_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("deleted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("plan_id", sa.Integer(), nullable=False),
        sa.Column("parts", sa.Integer(), nullable=False),
        sa.Column("part_width_m", sa.Float(), nullable=True),
        sa.Column("part_length_m", sa.Float(), nullable=True),
        sa.Column("old_kg", sa.Float(), nullable=True),
        sa.Column("old_percent", sa.Float(), nullable=True),
        sa.Column("full_kg", sa.Float(), nullable=True),
        sa.Column("left_kg", sa.Float(), nullable=True),
        sa.Column("jet_m", sa.Float(), nullable=True),
        sa.Column("gauge_Pa", sa.Float(), nullable=True),
        sa.Column("day_K", sa.Float(), nullable=True),
        sa.Column("fire_s", sa.Float(), nullable=True),
        sa.Column("work_s", sa.Float(), nullable=True),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.CheckConstraint('"day_K" BETWEEN 0 AND 3000', name=op.f("ck_plansupplies_day_K_range")),
        sa.CheckConstraint('"fire_s" BETWEEN 0 AND 10000000', name=op.f("ck_plansupplies_fire_s_range")),
        sa.CheckConstraint(
            '"full_kg" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_plansupplies_full_kg_range")
        ),
        sa.CheckConstraint(
            '"gauge_Pa" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_plansupplies_gauge_Pa_range")
        ),
        sa.CheckConstraint('"jet_m" BETWEEN 0 AND 100', name=op.f("ck_plansupplies_jet_m_range")),
        sa.CheckConstraint(
            '"left_kg" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_plansupplies_left_kg_range")
        ),
        sa.CheckConstraint(
            '"old_kg" BETWEEN -1000000000 AND 1000000000', name=op.f("ck_plansupplies_old_kg_range")
        ),
        sa.CheckConstraint('"old_percent" BETWEEN 0 AND 100', name=op.f("ck_plansupplies_old_percent_range")),
        sa.CheckConstraint(
            '"part_length_m" BETWEEN 0 AND 100', name=op.f("ck_plansupplies_part_length_m_range")
        ),
        sa.CheckConstraint(
            '"part_width_m" BETWEEN 0 AND 100', name=op.f("ck_plansupplies_part_width_m_range")
        ),
        sa.CheckConstraint('"work_s" BETWEEN 0 AND 10000000', name=op.f("ck_plansupplies_work_s_range")),
        sa.CheckConstraint("length(note) <= 100000", name=op.f("ck_plansupplies_note_length")),
        sa.ForeignKeyConstraint(["plan_id"], ["plan.id"], name=op.f("fk_plansupplies_plan_id_plan")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plansupplies")),
    )
    with op.batch_alter_table("plansupplies", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plansupplies_plan_id"), ["plan_id"], unique=False)
