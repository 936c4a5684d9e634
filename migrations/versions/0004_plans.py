"""Plans, what was chosen from them, and signed commissioning sheets."""

import sqlalchemy as sa
from alembic import op

from app.records.guards import append_only, drop_append_only

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

KEPT = ("plan", "plan_choice", "fit_sheet")


def upgrade() -> None:
    op.create_table(
        "plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("inputs", sa.JSON(), nullable=False),
        sa.Column("result", sa.JSON(), nullable=False),
        sa.Column("engine", sa.String(length=40), nullable=False),
        sa.Column("entry_id", sa.String(length=36), nullable=True),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_plan_site_id")),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_plan_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plan")),
        sa.UniqueConstraint("entry_id", name=op.f("uq_plan_entry_id")),
    )
    op.create_index("ix_plan_site_id", "plan", ["site_id"])
    op.create_table(
        "plan_choice",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("plan_id", sa.Integer(), nullable=False),
        sa.Column("candidate", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("rating_id", sa.Integer(), nullable=False),
        sa.Column("crest_rl_m", sa.Float(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["plan_id"], ["plan.id"], name=op.f("fk_plan_choice_plan_id")),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_plan_choice_structure_id")
        ),
        sa.ForeignKeyConstraint(
            ["rating_id"], ["rating.id"], name=op.f("fk_plan_choice_rating_id")
        ),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_plan_choice_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plan_choice")),
    )
    op.create_index("ix_plan_choice_plan_id", "plan_choice", ["plan_id"])
    op.create_index("ix_plan_choice_structure_id", "plan_choice", ["structure_id"])
    op.create_table(
        "fit_sheet",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("fit_from", sa.DateTime(timezone=True), nullable=False),
        sa.Column("signed_name", sa.String(length=80), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("sheet", sa.JSON(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_fit_sheet_structure_id")
        ),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_fit_sheet_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fit_sheet")),
    )
    op.create_index("ix_fit_sheet_structure_id", "fit_sheet", ["structure_id"])
    for table in KEPT:
        for statement in append_only(op.get_bind().dialect.name, table):
            op.execute(statement)


def downgrade() -> None:
    for table in KEPT:
        for statement in drop_append_only(op.get_bind().dialect.name, table):
            op.execute(statement)
    for table, column in (
        ("fit_sheet", "structure_id"),
        ("plan_choice", "structure_id"),
        ("plan_choice", "plan_id"),
        ("plan", "site_id"),
    ):
        op.drop_index(f"ix_{table}_{column}", table)
    for table in reversed(KEPT):
        op.drop_table(table)
