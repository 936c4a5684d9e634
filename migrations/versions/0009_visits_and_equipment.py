"""How often a site is visited; the register of instruments, their places and calibrations."""

import sqlalchemy as sa
from alembic import op

from app.records.guards import append_only, drop_append_only

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

TABLES = (
    "instrument",
    "instrument_fact",
    "instrument_place",
    "calibration",
    "instrument_naming",
    "visit_plan",
)


def made(table: str) -> list[sa.schema.SchemaItem]:
    """Return who added a row and when, with its keys."""
    return [
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f(f"fk_{table}_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
    ]


def names(table: str, column: str, other: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [other], name=op.f(f"fk_{table}_{column}"))


def upgrade() -> None:
    op.create_table(
        "instrument",
        sa.Column("id", sa.Integer(), nullable=False),
        *made("instrument"),
    )
    op.create_table(
        "instrument_fact",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("described", sa.String(length=200), nullable=False),
        sa.Column("serial", sa.String(length=60), nullable=False),
        sa.Column("interval_days", sa.Integer(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        names("instrument_fact", "instrument_id", "instrument.id"),
        *made("instrument_fact"),
    )
    op.create_table(
        "instrument_place",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=False),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("place", sa.String(length=10), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("words", sa.String(length=200), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        names("instrument_place", "instrument_id", "instrument.id"),
        names("instrument_place", "site_id", "site.id"),
        names("instrument_place", "person_id", "person.id"),
        *made("instrument_place"),
    )
    op.create_table(
        "calibration",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=False),
        sa.Column("by_whom", sa.String(length=200), nullable=False),
        sa.Column("outcome", sa.String(length=10), nullable=False),
        sa.Column("result", sa.Text(), nullable=False),
        sa.Column("coefficients", sa.JSON(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("certificate_sha256", sa.String(length=64), nullable=True),
        sa.Column("replaces_id", sa.Integer(), nullable=True),
        sa.Column("void", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        names("calibration", "instrument_id", "instrument.id"),
        names("calibration", "certificate_sha256", "kept_file.sent_sha256"),
        names("calibration", "replaces_id", "calibration.id"),
        *made("calibration"),
    )
    op.create_table(
        "instrument_naming",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.String(length=36), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        names("instrument_naming", "entry_id", "entry.id"),
        names("instrument_naming", "instrument_id", "instrument.id"),
        *made("instrument_naming"),
    )
    op.create_table(
        "visit_plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("interval_days", sa.Integer(), nullable=True),
        sa.Column("outside_days", sa.Integer(), nullable=True),
        sa.Column("season_begins", sa.String(length=5), nullable=False),
        sa.Column("season_ends", sa.String(length=5), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("round", sa.String(length=40), nullable=False),
        sa.Column("to_do", sa.Text(), nullable=False),
        sa.Column("access", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        names("visit_plan", "site_id", "site.id"),
        names("visit_plan", "person_id", "person.id"),
        *made("visit_plan"),
    )
    for table, column in INDEXES:
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])
    for table in TABLES:
        for statement in append_only(op.get_bind().dialect.name, table):
            op.execute(statement)


INDEXES = (
    ("instrument_fact", "instrument_id"),
    ("instrument_place", "instrument_id"),
    ("instrument_place", "site_id"),
    ("calibration", "instrument_id"),
    ("instrument_naming", "entry_id"),
    ("instrument_naming", "instrument_id"),
    ("visit_plan", "site_id"),
)


def downgrade() -> None:
    for table in TABLES:
        for statement in drop_append_only(op.get_bind().dialect.name, table):
            op.execute(statement)
    for table, column in INDEXES:
        op.drop_index(op.f(f"ix_{table}_{column}"), table)
    for table in reversed(TABLES):
        op.drop_table(table)
