"""Lines of one's own on the map."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "race_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("file_name", sa.String(length=200), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("parts", sa.JSON(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("withdrawn_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("withdrawn_by_id", sa.Integer(), nullable=True),
        sa.Column("withdraw_reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_race_line_by_id")),
        sa.ForeignKeyConstraint(
            ["withdrawn_by_id"], ["person.id"], name=op.f("fk_race_line_withdrawn_by_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_race_line")),
    )
    op.create_index(op.f("ix_race_line_sha256"), "race_line", ["sha256"])


def downgrade() -> None:
    op.drop_index(op.f("ix_race_line_sha256"), "race_line")
    op.drop_table("race_line")
