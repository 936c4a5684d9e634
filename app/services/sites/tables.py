"""Sites as lists: all of them, dated ratings and zeros, changes, people, families."""

from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.hydraulics.structure.device import Flow, flag_words
from app.language.tables import Column, Table
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.people import AccessToken
from app.records.sites import Site, Structure
from app.services.entries.links import standing_only, what_stands
from app.services.sites.accounts import people
from app.services.sites.changes import changes
from app.services.sites.families import family_cards
from app.services.sites.register import get_site
from app.services.sites.tokens import of_person
from app.services.sites.views import views

CHANGE_COLUMNS = (
    Column("at", "When, UTC"),
    Column("by", "Who"),
    Column("action", "What"),
    Column("subject", "Of"),
    Column("subject_id", "Id"),
    Column("before", "Before"),
    Column("after", "After"),
    Column("reason", "Reason"),
    Column("named", "Name of it"),
    Column("about", "Which one"),
)


def changes_table(session: Session, site: Site) -> Table:
    assert site.id is not None
    rows = [change.as_row() for change in changes(session, site.id)]
    return Table(f"changes-{site.code}", CHANGE_COLUMNS, rows)


SITE_COLUMNS = (
    Column("id", "Id"),
    Column("code", "Code"),
    Column("name", "Site"),
    Column("latitude", "Latitude, degrees"),
    Column("longitude", "Longitude, degrees"),
    Column("utc_offset_min", "Site time from UTC, min"),
    Column("structures", "Structures"),
    Column("readings", "Readings"),
    Column("last_reading_at", "Last reading, UTC"),
    Column("last_discharge_m3s", "Last discharge, m3/s"),
    Column("last_uncertainty_pct", "Uncertainty, %"),
    Column("last_flow", "Flow word"),
    Column("last_flags", "Flags"),
)


def site_list(session: Session) -> Table:
    """Return all sites with their newest reading that stands, as a table."""
    links = what_stands(session)
    newest_first = (col(FlowValue.at).desc(), col(FlowValue.id).desc())
    ranking = sa.func.row_number().over(partition_by=col(FlowValue.site_id), order_by=newest_first)
    flow = (
        col(FlowValue.discharge_m3s),
        col(FlowValue.uncertainty_pct),
        col(FlowValue.flow),
        col(FlowValue.flags),
    )
    ranked = (
        sa.select(col(FlowValue.site_id), col(FlowValue.at), *flow, ranking.label("place"))
        .where(col(FlowValue.current), standing_only(session, FlowValue.entry_id, links))
        .subquery()
    )
    newest = {r.site_id: r for r in session.execute(sa.select(ranked).where(ranked.c.place == 1))}
    counted = session.execute(
        sa.select(col(Entry.site_id), sa.func.count())
        .where(col(Entry.kind) == "head_reading", standing_only(session, Entry.id, links))
        .group_by(col(Entry.site_id))
    )
    counts = {row[0]: row[1] for row in counted}
    names: dict[int, list[str]] = {}
    for site_id, name in session.execute(
        sa.select(col(Structure.site_id), col(Structure.name)).order_by(col(Structure.id))
    ):
        names.setdefault(site_id, []).append(name)
    rows = []
    for site in session.exec(select(Site).order_by(Site.name)):
        assert site.id is not None
        last = newest.get(site.id)
        rows.append(
            site.model_dump(include={"id", "code", "name", "latitude", "longitude"})
            | {
                "utc_offset_min": site.utc_offset_min,
                "structures": names.get(site.id, []),
                "readings": counts.get(site.id, 0),
                "last_reading_at": last.at if last else None,
                "last_discharge_m3s": last.discharge_m3s if last else None,
                "last_uncertainty_pct": last.uncertainty_pct if last else None,
                "last_flow": Flow(last.flow).word if last else None,
                "last_flow_code": last.flow if last else None,
                "last_flags": flag_words(last.flags) if last else [],
            }
        )
    return Table("sites", SITE_COLUMNS, rows)


RATING_COLUMNS = (
    Column("id", "Rating"),
    Column("structure_id", "Structure id"),
    Column("structure", "Structure"),
    Column("valid_from", "In force from, UTC"),
    Column("family", "Family"),
    Column("dims", "Dimensions"),
    Column("described", "Rating of"),
    Column("drowning", "Drowns"),
    Column("head_limit_m", "Discharge given to a head of, m"),
    Column("head_limit_reason", "Why to there"),
    Column("reason", "Reason"),
    Column("by", "Entered by"),
    Column("created_at", "Entered, UTC"),
)

ZERO_COLUMNS = (
    Column("id", "Gauge zero"),
    Column("structure_id", "Structure id"),
    Column("structure", "Structure"),
    Column("valid_from", "In force from, UTC"),
    Column("crest_rl_m", "Reduced level of crest, m"),
    Column("zero_rl_m", "Reduced level of gauge zero, m"),
    Column("tail_zero_rl_m", "Reduced level of tail gauge zero, m"),
    Column("offset_m", "Added to the staff, m"),
    Column("tail_offset_m", "Added to the tail staff, m"),
    Column("run_entry_id", "Level run"),
    Column("reason", "Reason"),
    Column("by", "Entered by"),
    Column("created_at", "Entered, UTC"),
)


def ratings_table(session: Session, site_id: int) -> Table:
    site = get_site(session, site_id)
    rows = [rating for view in views(session, site_id) for rating in view.ratings]
    for row in rows:
        row["dims"] = [f"{key}={value}" for key, value in row["dims"].items()]
    return Table(f"ratings-{site.code}", RATING_COLUMNS, rows)


def zeros_table(session: Session, site_id: int) -> Table:
    site = get_site(session, site_id)
    rows = [zero for view in views(session, site_id) for zero in view.zeros]
    return Table(f"gauge-zeros-{site.code}", ZERO_COLUMNS, rows)


NUMBER_COLUMNS = (
    Column("family", "Key"),
    Column("name", "Family"),
    Column("tested_tolerance_pct", "Tested against its table within, %"),
    Column("tested_words", "Tested within"),
    Column("weakest_provenance", "Rests at worst on"),
    Column("limits", "Limits"),
    Column("can_drown", "Can drown"),
    Column("correction", "Drowned flow is corrected"),
    Column("sources", "Sources"),
)


def numbers_table() -> Table:
    """Return how sure the numbers of every family are."""
    cards = [
        card | {"sources": [f"{s['text']} ({s['provenance']})" for s in card["sources"]]}
        for card in family_cards()
    ]
    return Table("numbers", NUMBER_COLUMNS, cards)


PEOPLE_COLUMNS = (
    Column("id", "Id"),
    Column("name", "Name"),
    Column("role", "Role"),
    Column("active", "Active"),
)


def people_table(session: Session) -> Table:
    """Return the people and their roles; never anything of their sign-in."""
    rows = [p.model_dump(include={"id", "name", "role", "active"}) for p in people(session)]
    return Table("people", PEOPLE_COLUMNS, rows)


TOKEN_COLUMNS = (
    Column("id", "Id"),
    Column("name", "Name"),
    Column("scope", "May"),
    Column("begins", "Begins with"),
    Column("state", "State"),
    Column("created_at", "Made, UTC"),
    Column("expires_at", "Ends, UTC"),
    Column("used_at", "Used last (to the hour), UTC"),
    Column("revoked_at", "Revoked, UTC"),
)


def state_of(one: AccessToken, now: datetime) -> str:
    """Return the one word for whether a token opens anything now, and why not."""
    if one.revoked_at is not None:
        return "revoked"
    return "ended" if one.expires_at <= now else "runs"


def token_table(session: Session, person_id: int, now: datetime) -> Table:
    """Return the tokens of a person, newest first; never their text, nor its hash."""
    rows = [
        one.model_dump(exclude={"token_hash"}) | {"state": state_of(one, now)}
        for one in of_person(session, person_id)
    ]
    return Table("tokens", TOKEN_COLUMNS, rows)
