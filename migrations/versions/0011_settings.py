"""Settings are dated and append-only, with who and why; a reading cites its limits.

What the office had set stays set, by whom the trail names; the limits of earlier readings were the
built-in ones, which is what NULL says.
"""

import json

import sqlalchemy as sa
from alembic import op

from app.records.guards import append_only, drop_append_only

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

WATER_YEAR = "water_year"
BEFORE = sa.table("preference", sa.column("key"), sa.column("value"))
NOW = sa.table(
    "setting",
    *(sa.column(name) for name in ("key", "revision", "value", "reason", "by_id")),
    sa.column("at", sa.DateTime(timezone=True)),
)
TRAIL = sa.table(
    "audit_entry",
    *(sa.column(name) for name in ("id", "subject", "subject_id", "by_id")),
    sa.column("at", sa.DateTime(timezone=True)),
)


def upgrade() -> None:
    op.create_table(
        "setting",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=40), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("value", sa.Text(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_setting_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_setting")),
        sa.UniqueConstraint("key", "revision", name=op.f("uq_setting_key_revision")),
    )
    bind = op.get_bind()
    for key, value in bind.execute(sa.select(BEFORE.c.key, BEFORE.c.value)).all():
        line = bind.execute(
            sa.select(TRAIL.c.by_id, TRAIL.c.at)
            .where(TRAIL.c.subject == "preference", TRAIL.c.subject_id == key)
            .order_by(TRAIL.c.id.desc())
        ).first()
        bind.execute(
            NOW.insert().values(
                key=key,
                revision=1,
                value=_named(value) if key == WATER_YEAR else value,
                reason="",
                by_id=line.by_id if line else None,
                at=line.at if line else sa.func.current_timestamp(),
            )
        )
    for statement in append_only(bind.dialect.name, "setting"):
        op.execute(statement)
    op.drop_table("preference")
    with op.batch_alter_table("flow_value") as batch:
        batch.add_column(sa.Column("limits", sa.Text(), nullable=True))


def _named(value: str) -> str:
    month, day = json.loads(value)
    return json.dumps(f"{month:02d}-{day:02d}")


def _counted(value: str) -> str:
    return json.dumps([int(part) for part in json.loads(value).split("-")])


def downgrade() -> None:
    with op.batch_alter_table("flow_value") as batch:
        batch.drop_column("limits")
    op.create_table(
        "preference",
        sa.Column("key", sa.String(length=40), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_preference")),
    )
    bind = op.get_bind()
    newest: dict[str, str | None] = {}
    for key, value in bind.execute(sa.select(NOW.c.key, NOW.c.value).order_by(NOW.c.revision)):
        newest[key] = value
    for key in (WATER_YEAR, "acceptance_bands"):  # the older release knows no other
        value = newest.get(key)
        if value is not None:
            kept = _counted(value) if key == WATER_YEAR else value
            bind.execute(BEFORE.insert().values(key=key, value=kept))
    for statement in drop_append_only(bind.dialect.name, "setting"):
        op.execute(statement)
    op.drop_table("setting")
