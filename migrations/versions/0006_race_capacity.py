"""What a race can carry at most, stated from a day on."""

import sqlalchemy as sa
from alembic import op

from app.records.guards import append_only, drop_append_only

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "race_capacity",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("amount", sa.Float(), nullable=True),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_race_capacity_structure_id")
        ),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_race_capacity_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_race_capacity")),
    )
    op.create_index("ix_race_capacity_structure_id", "race_capacity", ["structure_id"])
    for statement in append_only(op.get_bind().dialect.name, "race_capacity"):
        op.execute(statement)


def downgrade() -> None:
    for statement in drop_append_only(op.get_bind().dialect.name, "race_capacity"):
        op.execute(statement)
    op.drop_index("ix_race_capacity_structure_id", "race_capacity")
    op.drop_table("race_capacity")
