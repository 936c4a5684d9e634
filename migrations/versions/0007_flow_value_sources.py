"""A reading's discharge cites the figures of its structure that it was made with.

Rows from before stay NULL there, which reads as: not known, rate again.
"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

CITED = ("structure_head_uncertainty_m", "structure_pond_area_m2")


def upgrade() -> None:
    with op.batch_alter_table("flow_value") as batch:
        for name in CITED:
            batch.add_column(sa.Column(name, sa.Float(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("flow_value") as batch:
        for name in CITED:
            batch.drop_column(name)
