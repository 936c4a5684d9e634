"""People, sites, field entries, flow values and the audit trail."""

import sqlalchemy as sa
from alembic import op

from app.records.guards import append_only, drop_append_only

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

APPEND_ONLY = ("entry", "audit_entry", "rating", "gauge_zero")


def upgrade() -> None:
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("password_hash", sa.String(length=200), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("name", name=op.f("uq_person_name")),
    )
    op.create_table(
        "server_fact",
        sa.Column("key", sa.String(length=40), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_server_fact")),
    )
    op.create_table(
        "sign_in_failure",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("address", sa.String(length=64), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in_failure")),
    )
    with op.batch_alter_table("sign_in_failure", schema=None) as batch_op:
        batch_op.create_index("ix_sign_in_failure_name_address", ["name", "address"], unique=False)

    op.create_table(
        "site",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("latitude", sa.Float(), nullable=True),
        sa.Column("longitude", sa.Float(), nullable=True),
        sa.Column("utc_offset_min", sa.Integer(), nullable=False),
        sa.Column("head_unit", sa.String(length=2), nullable=False),
        sa.Column("hazards", sa.Text(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("demo", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site")),
        sa.UniqueConstraint("code", name=op.f("uq_site_code")),
    )
    op.create_table(
        "audit_entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=True),
        sa.Column("action", sa.String(length=60), nullable=False),
        sa.Column("subject", sa.String(length=40), nullable=False),
        sa.Column("subject_id", sa.String(length=40), nullable=False),
        sa.Column("before", sa.JSON(), nullable=True),
        sa.Column("after", sa.JSON(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_audit_entry_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit_entry")),
    )
    with op.batch_alter_table("audit_entry", schema=None) as batch_op:
        batch_op.create_index("ix_audit_entry_subject", ["subject", "subject_id"], unique=False)

    op.create_table(
        "refused_entry",
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("entry_id", sa.String(length=80), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("phone", sa.String(length=64), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.Column("field", sa.String(length=80), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.Column("rule", sa.Text(), nullable=False),
        sa.Column("remedy", sa.Text(), nullable=False),
        sa.Column("settled", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_refused_entry_by_id")),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_refused_entry")),
    )
    with op.batch_alter_table("refused_entry", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_refused_entry_entry_id"), ["entry_id"], unique=False)

    op.create_table(
        "sign_in",
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_sign_in_person_id")),
        sa.PrimaryKeyConstraint("token_hash", name=op.f("pk_sign_in")),
    )
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_in_person_id"), ["person_id"], unique=False)

    op.create_table(
        "structure",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("family", sa.String(length=40), nullable=False),
        sa.Column("dims", sa.JSON(), nullable=False),
        sa.Column("tailwater_gauge", sa.Boolean(), nullable=False),
        sa.Column("pond_area_m2", sa.Float(), nullable=True),
        sa.Column("head_uncertainty_m", sa.Float(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_structure_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_structure")),
    )
    with op.batch_alter_table("structure", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_structure_site_id"), ["site_id"], unique=False)

    op.create_table(
        "entry",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("kind", sa.String(length=30), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=True),
        sa.Column("visit_id", sa.String(length=36), nullable=True),
        sa.Column("observed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("utc_offset_min", sa.Integer(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("saved_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("phone", sa.String(length=64), nullable=False),
        sa.Column("corrects_id", sa.String(length=36), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("content_sha256", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_entry_by_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_entry_site_id")),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_entry_structure_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_entry")),
    )
    with op.batch_alter_table("entry", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_entry_corrects_id"), ["corrects_id"], unique=False)
        batch_op.create_index(
            "ix_entry_site_kind_observed", ["site_id", "kind", "observed_at"], unique=False
        )
        batch_op.create_index(
            "ix_entry_structure_kind_observed",
            ["structure_id", "kind", "observed_at"],
            unique=False,
        )
        batch_op.create_index(batch_op.f("ix_entry_visit_id"), ["visit_id"], unique=False)

    op.create_table(
        "gauge_zero",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("valid_from", sa.DateTime(timezone=True), nullable=False),
        sa.Column("crest_rl_m", sa.Float(), nullable=False),
        sa.Column("zero_rl_m", sa.Float(), nullable=False),
        sa.Column("tail_zero_rl_m", sa.Float(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("run_entry_id", sa.String(length=36), nullable=True),
        sa.Column("by_id", sa.Integer(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_gauge_zero_by_id")),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_gauge_zero_structure_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gauge_zero")),
    )
    with op.batch_alter_table("gauge_zero", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_gauge_zero_structure_id"), ["structure_id"], unique=False
        )

    op.create_table(
        "rating",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("valid_from", sa.DateTime(timezone=True), nullable=False),
        sa.Column("family", sa.String(length=40), nullable=False),
        sa.Column("dims", sa.JSON(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_rating_by_id")),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_rating_structure_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rating")),
    )
    with op.batch_alter_table("rating", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rating_structure_id"), ["structure_id"], unique=False)

    op.create_table(
        "flow_value",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.String(length=36), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("structure_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("head_m", sa.Float(), nullable=True),
        sa.Column("head_uncertainty_m", sa.Float(), nullable=True),
        sa.Column("tailwater_m", sa.Float(), nullable=True),
        sa.Column("discharge_m3s", sa.Float(), nullable=True),
        sa.Column("uncertainty_pct", sa.Float(), nullable=True),
        sa.Column("submergence_ratio", sa.Float(), nullable=True),
        sa.Column("flow", sa.Integer(), nullable=False),
        sa.Column("flags", sa.Integer(), nullable=False),
        sa.Column("steadiness", sa.String(length=12), nullable=False),
        sa.Column("rating_id", sa.Integer(), nullable=True),
        sa.Column("gauge_zero_id", sa.Integer(), nullable=True),
        sa.Column("engine", sa.String(length=20), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("rated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("current", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name=op.f("fk_flow_value_entry_id")),
        sa.ForeignKeyConstraint(
            ["gauge_zero_id"], ["gauge_zero.id"], name=op.f("fk_flow_value_gauge_zero_id")
        ),
        sa.ForeignKeyConstraint(["rating_id"], ["rating.id"], name=op.f("fk_flow_value_rating_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_flow_value_site_id")),
        sa.ForeignKeyConstraint(
            ["structure_id"], ["structure.id"], name=op.f("fk_flow_value_structure_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_flow_value")),
    )
    with op.batch_alter_table("flow_value", schema=None) as batch_op:
        batch_op.create_index("ix_flow_value_entry_current", ["entry_id", "current"], unique=False)
        batch_op.create_index(
            "ix_flow_value_site_current_at", ["site_id", "current", "at"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_flow_value_structure_id"), ["structure_id"], unique=False
        )

    for table in APPEND_ONLY:
        for statement in append_only(op.get_bind().dialect.name, table):
            op.execute(statement)


def downgrade() -> None:
    for table in APPEND_ONLY:
        for statement in drop_append_only(op.get_bind().dialect.name, table):
            op.execute(statement)
    with op.batch_alter_table("flow_value", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_flow_value_structure_id"))
        batch_op.drop_index("ix_flow_value_site_current_at")
        batch_op.drop_index("ix_flow_value_entry_current")

    op.drop_table("flow_value")
    with op.batch_alter_table("rating", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rating_structure_id"))

    op.drop_table("rating")
    with op.batch_alter_table("gauge_zero", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_gauge_zero_structure_id"))

    op.drop_table("gauge_zero")
    with op.batch_alter_table("entry", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_entry_visit_id"))
        batch_op.drop_index("ix_entry_structure_kind_observed")
        batch_op.drop_index("ix_entry_site_kind_observed")
        batch_op.drop_index(batch_op.f("ix_entry_corrects_id"))

    op.drop_table("entry")
    with op.batch_alter_table("structure", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_structure_site_id"))

    op.drop_table("structure")
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sign_in_person_id"))

    op.drop_table("sign_in")
    with op.batch_alter_table("refused_entry", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_refused_entry_entry_id"))

    op.drop_table("refused_entry")
    with op.batch_alter_table("audit_entry", schema=None) as batch_op:
        batch_op.drop_index("ix_audit_entry_subject")

    op.drop_table("audit_entry")
    op.drop_table("site")
    with op.batch_alter_table("sign_in_failure", schema=None) as batch_op:
        batch_op.drop_index("ix_sign_in_failure_name_address")

    op.drop_table("sign_in_failure")
    op.drop_table("server_fact")
    op.drop_table("person")
