"""What is said of waiting logger files; loggers forget what nobody ever told them."""

import json

import sqlalchemy as sa
from alembic import op

from app.records.guards import append_only, drop_append_only

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

PRESSURES = ("pressure, vented", "pressure, absolute")


def upgrade() -> None:
    op.create_table(
        "file_act",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=True),
        sa.Column("act", sa.String(length=20), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["sha256"], ["kept_file.sent_sha256"], name=op.f("fk_file_act_sha256")
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_file_act_site_id")),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_file_act_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_file_act")),
    )
    op.create_index(op.f("ix_file_act_sha256"), "file_act", ["sha256"])
    for statement in append_only(op.get_bind().dialect.name, "file_act"):
        op.execute(statement)
    forget_untold()


def forget_untold() -> None:
    """Drop from what loggers remember the choices that stood for nobody's answer.

    A pressure sensor "at the crest" and the clock "on standard time" were written down without
    being asked. The next file asks for the first, and for the second where its rows give cause.
    """
    logger = sa.table("logger", sa.column("id", sa.Integer()), sa.column("remembered", sa.JSON()))
    bind = op.get_bind()
    for logger_id, held in bind.execute(sa.select(logger.c.id, logger.c.remembered)).all():
        kept = json.loads(held) if isinstance(held, str) else dict(held or {})
        columns = kept.get("columns") or {}
        hung = any(column.get("meaning") in PRESSURES for column in columns.values())
        if kept.get("sensor_above_crest_m") == 0.0 or not hung:
            kept.pop("sensor_above_crest_m", None)
        if kept.get("time_zone") == "standard":
            del kept["time_zone"]
        if kept != held:
            bind.execute(sa.update(logger).where(logger.c.id == logger_id).values(remembered=kept))


def downgrade() -> None:
    for statement in drop_append_only(op.get_bind().dialect.name, "file_act"):
        op.execute(statement)
    op.drop_index(op.f("ix_file_act_sha256"), "file_act")
    op.drop_table("file_act")
