"""Photos and logger files."""

import sqlalchemy as sa
from alembic import op

from app.records.guards import append_only, drop_append_only

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "kept_file",
        sa.Column("sent_sha256", sa.String(length=64), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("media_type", sa.String(length=60), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_kept_file_by_id")),
        sa.PrimaryKeyConstraint("sent_sha256", name=op.f("pk_kept_file")),
    )
    for statement in append_only(op.get_bind().dialect.name, "kept_file"):
        op.execute(statement)


def downgrade() -> None:
    for statement in drop_append_only(op.get_bind().dialect.name, "kept_file"):
        op.execute(statement)
    op.drop_table("kept_file")
