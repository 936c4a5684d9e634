"""Loggers, the long record, takes and review."""

import sqlalchemy as sa
from alembic import op

from app.records.guards import append_only, drop_append_only

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

GROWING = ("correction_layer", "layer_withdrawal", "review_decision", "month_state")
RAW = "raw readings are never changed: add a correction layer"


def upgrade() -> None:
    op.create_table(
        "preference",
        sa.Column("key", sa.String(length=40), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_preference")),
    )
    op.create_table(
        "review_decision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_key", sa.String(length=160), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=True),
        sa.Column("action", sa.String(length=10), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_review_decision_by_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_review_decision_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_review_decision")),
        sa.UniqueConstraint(
            "item_key", "revision", name=op.f("uq_review_decision_item_key_revision")
        ),
    )
    op.create_index(op.f("ix_review_decision_site_id"), "review_decision", ["site_id"])

    op.create_table(
        "correction_layer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.String(length=10), nullable=False),
        sa.Column("shape", sa.String(length=20), nullable=False),
        sa.Column("from_s", sa.BigInteger(), nullable=False),
        sa.Column("to_s", sa.BigInteger(), nullable=False),
        sa.Column("at_s", sa.BigInteger(), nullable=True),
        sa.Column("amount", sa.Float(), nullable=True),
        sa.Column("amount_end", sa.Float(), nullable=True),
        sa.Column("uncertainty_m", sa.Float(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("offer_key", sa.String(length=120), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_correction_layer_by_id")),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_correction_layer_structure_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_correction_layer")),
    )
    op.create_index("ix_correction_layer_place", "correction_layer", ["structure_id", "quantity"])

    op.create_table(
        "daily_flow",
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Integer(), nullable=False),
        sa.Column("volume_m3", sa.Float(), nullable=True),
        sa.Column("measured_m3", sa.Float(), nullable=True),
        sa.Column("estimated_m3", sa.Float(), nullable=True),
        sa.Column("volume_uncertainty_m3", sa.Float(), nullable=True),
        sa.Column("mean_m3s", sa.Float(), nullable=True),
        sa.Column("low_m3s", sa.Float(), nullable=True),
        sa.Column("low_at_s", sa.BigInteger(), nullable=True),
        sa.Column("high_m3s", sa.Float(), nullable=True),
        sa.Column("high_at_s", sa.BigInteger(), nullable=True),
        sa.Column("readings", sa.Integer(), nullable=False),
        sa.Column("measured_s", sa.Float(), nullable=False),
        sa.Column("estimated_s", sa.Float(), nullable=False),
        sa.Column("missing_fraction", sa.Float(), nullable=False),
        sa.Column("undetermined", sa.Integer(), nullable=False),
        sa.Column("flows", sa.Integer(), nullable=False),
        sa.Column("flags", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_daily_flow_structure_id")
        ),
        sa.PrimaryKeyConstraint("structure_id", "day", name=op.f("pk_daily_flow")),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "found_fault",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.String(length=10), nullable=False),
        sa.Column("month", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("from_s", sa.BigInteger(), nullable=False),
        sa.Column("to_s", sa.BigInteger(), nullable=False),
        sa.Column("size", sa.Float(), nullable=False),
        sa.Column("unit", sa.String(length=8), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_found_fault_structure_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_found_fault")),
    )
    op.create_index("ix_found_fault_place", "found_fault", ["structure_id", "quantity", "from_s"])

    op.create_table(
        "logger",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("serial", sa.String(length=40), nullable=False),
        sa.Column("quantity", sa.String(length=10), nullable=False),
        sa.Column("reads", sa.String(length=10), nullable=False),
        sa.Column("remembered", sa.JSON(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_logger_by_id")),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_logger_structure_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_logger")),
    )
    op.create_index(op.f("ix_logger_structure_id"), "logger", ["structure_id"])

    op.create_table(
        "month_state",
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("month", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_month_state_by_id")),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_month_state_structure_id")
        ),
        sa.PrimaryKeyConstraint("structure_id", "month", "revision", name=op.f("pk_month_state")),
    )
    op.create_table(
        "series_block",
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("month", sa.Integer(), nullable=False),
        sa.Column("from_s", sa.BigInteger(), nullable=False),
        sa.Column("to_s", sa.BigInteger(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("engine", sa.String(length=20), nullable=False),
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("versions", sa.JSON(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("discharge_sketch", sa.LargeBinary(), nullable=False),
        sa.Column("head_sketch", sa.LargeBinary(), nullable=False),
        sa.Column("t_s", sa.LargeBinary(), nullable=False),
        sa.Column("discharge_m3s", sa.LargeBinary(), nullable=False),
        sa.Column("uncertainty_pct", sa.LargeBinary(), nullable=False),
        sa.Column("how", sa.LargeBinary(), nullable=False),
        sa.Column("flow", sa.LargeBinary(), nullable=False),
        sa.Column("flags", sa.LargeBinary(), nullable=False),
        sa.Column("head_m", sa.LargeBinary(), nullable=False),
        sa.Column("raw_m", sa.LargeBinary(), nullable=False),
        sa.Column("tailwater_m", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_series_block_structure_id")
        ),
        sa.PrimaryKeyConstraint("structure_id", "month", name=op.f("pk_series_block")),
    )
    op.create_table(
        "take_limit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("amount", sa.Float(), nullable=False),
        sa.Column("window_s", sa.Integer(), nullable=False),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("valid_to", sa.Date(), nullable=True),
        sa.Column("season_begins", sa.String(length=5), nullable=False),
        sa.Column("season_ends", sa.String(length=5), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("end_reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_take_limit_by_id")),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_take_limit_structure_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_take_limit")),
    )
    op.create_index(op.f("ix_take_limit_structure_id"), "take_limit", ["structure_id"])

    op.create_table(
        "layer_withdrawal",
        sa.Column("layer_id", sa.Integer(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_layer_withdrawal_by_id")),
        sa.ForeignKeyConstraint(
            ["layer_id"], ["correction_layer.id"], name=op.f("fk_layer_withdrawal_layer_id")
        ),
        sa.PrimaryKeyConstraint("layer_id", name=op.f("pk_layer_withdrawal")),
    )
    op.create_table(
        "logger_import",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("logger_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("sentence", sa.Text(), nullable=False),
        sa.Column("choices", sa.JSON(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("from_s", sa.BigInteger(), nullable=False),
        sa.Column("to_s", sa.BigInteger(), nullable=False),
        sa.Column("step_s", sa.Integer(), nullable=True),
        sa.Column("conflicts", sa.Integer(), nullable=False),
        sa.Column("problems", sa.Integer(), nullable=False),
        sa.Column("layer_id", sa.Integer(), nullable=True),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("undone_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("undone_by_id", sa.Integer(), nullable=True),
        sa.Column("undo_reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_logger_import_by_id")),
        sa.ForeignKeyConstraint(
            ["logger_id"], ["logger.id"], name=op.f("fk_logger_import_logger_id")
        ),
        sa.ForeignKeyConstraint(
            ["sha256"], ["kept_file.sent_sha256"], name=op.f("fk_logger_import_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["undone_by_id"], ["person.id"], name=op.f("fk_logger_import_undone_by_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_logger_import")),
    )
    op.create_index(op.f("ix_logger_import_logger_id"), "logger_import", ["logger_id"])
    op.create_index(op.f("ix_logger_import_sha256"), "logger_import", ["sha256"])

    op.create_table(
        "logger_block",
        sa.Column("import_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.String(length=10), nullable=False),
        sa.Column("from_s", sa.BigInteger(), nullable=False),
        sa.Column("to_s", sa.BigInteger(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("logger_id", sa.Integer(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("times", sa.LargeBinary(), nullable=False),
        sa.Column("values", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["import_id"], ["logger_import.id"], name=op.f("fk_logger_block_import_id")
        ),
        sa.ForeignKeyConstraint(
            ["logger_id"], ["logger.id"], name=op.f("fk_logger_block_logger_id")
        ),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_logger_block_structure_id")
        ),
        sa.PrimaryKeyConstraint("import_id", "quantity", "from_s", name=op.f("pk_logger_block")),
    )
    op.create_index(
        "ix_logger_block_place", "logger_block", ["structure_id", "quantity", "from_s", "to_s"]
    )

    dialect = op.get_bind().dialect.name
    for table in GROWING:
        for statement in append_only(dialect, table):
            op.execute(statement)
    # A file taken back takes its blocks with it, so only UPDATE is refused here.
    if dialect == "sqlite":
        op.execute(
            "CREATE TRIGGER logger_block_no_update BEFORE UPDATE ON logger_block "
            f"BEGIN SELECT RAISE(ABORT, '{RAW}'); END"
        )
    else:
        op.execute(
            "CREATE FUNCTION logger_block_no_update() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{RAW}'; END $$"
        )
        op.execute(
            "CREATE TRIGGER logger_block_no_update BEFORE UPDATE ON logger_block "
            "FOR EACH ROW EXECUTE FUNCTION logger_block_no_update()"
        )


def downgrade() -> None:
    dialect = op.get_bind().dialect.name
    if dialect == "sqlite":
        op.execute("DROP TRIGGER logger_block_no_update")
    else:
        op.execute("DROP TRIGGER logger_block_no_update ON logger_block")
        op.execute("DROP FUNCTION logger_block_no_update()")
    for table in GROWING:
        for statement in drop_append_only(dialect, table):
            op.execute(statement)
    op.drop_index("ix_logger_block_place", "logger_block")

    op.drop_table("logger_block")
    op.drop_index(op.f("ix_logger_import_sha256"), "logger_import")
    op.drop_index(op.f("ix_logger_import_logger_id"), "logger_import")

    op.drop_table("logger_import")
    op.drop_table("layer_withdrawal")
    op.drop_index(op.f("ix_take_limit_structure_id"), "take_limit")

    op.drop_table("take_limit")
    op.drop_table("series_block")
    op.drop_table("month_state")
    op.drop_index(op.f("ix_logger_structure_id"), "logger")

    op.drop_table("logger")
    op.drop_index("ix_found_fault_place", "found_fault")

    op.drop_table("found_fault")
    op.drop_table("daily_flow")
    op.drop_index("ix_correction_layer_place", "correction_layer")

    op.drop_table("correction_layer")
    op.drop_index(op.f("ix_review_decision_site_id"), "review_decision")

    op.drop_table("review_decision")
    op.drop_table("preference")
