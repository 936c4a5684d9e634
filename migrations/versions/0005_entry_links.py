"""With an entry: the role of its author when it came, and whether it moves the record elsewhere."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("entry", sa.Column("by_role", sa.String(length=10), nullable=True))
    op.add_column("entry", sa.Column("moves", sa.Boolean(), nullable=True))


def downgrade() -> None:
    op.drop_column("entry", "moves")
    op.drop_column("entry", "by_role")
