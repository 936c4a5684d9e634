"""What may happen between entries, written down once: for the rule, the services and the phone.

A row is an entry: `corrects` names another row, `kind` is the kind under test (KIND), another one
(OTHER) or a withdrawal; it is made by crew at the first site unless it says otherwise. Rows are in
the order of their arrival; what stands must not depend on it.
"""

from dataclasses import dataclass

from app.services.entries.standing import (
    NOT_PERMITTED,
    OTHER_KIND,
    OTHER_SITE,
    RING,
    RIVALS,
    WAITING,
    WITHDRAWAL,
    WITHDRAWN_TOO,
    Node,
)

KIND, OTHER = "kind", "other"
CREW, MATE, OFFICE = "crew", "mate", "office"
PEOPLE = {CREW: 1, MATE: 2, OFFICE: 3}
HERE, THERE = "here", "there"


@dataclass(frozen=True)
class Row:
    """An entry of a scenario."""

    id: str
    corrects: str | None = None
    kind: str = KIND
    by: str = CREW
    site: str = HERE
    moves: bool = False


@dataclass(frozen=True)
class Scenario:
    """Entries in the order of arrival, and what must come of them."""

    name: str
    rows: tuple[Row, ...]
    stand: tuple[str, ...]
    rivals: tuple[str, ...] = ()
    doubts: tuple[tuple[str, str], ...] = ()  # word and entry, as `Standing.doubts` orders them


A, B, C = Row("a"), Row("b", "a"), Row("c", "b")


def withdrawal(key: str, named: str, by: str = CREW) -> Row:
    return Row(key, named, WITHDRAWAL, by)


SCENARIOS: tuple[Scenario, ...] = (
    Scenario("alone", (A,), ("a",)),
    Scenario("corrected", (A, B), ("b",)),
    Scenario("a chain", (A, B, C), ("c",)),
    Scenario("withdrawn", (A, withdrawal("w", "a")), ()),
    Scenario("withdrawn twice", (A, withdrawal("w", "a"), withdrawal("x", "a")), ()),
    Scenario("one of two withdrawals withdrawn",
             (A, withdrawal("w", "a"), withdrawal("x", "a"), withdrawal("y", "x")), ()),
    Scenario("the withdrawal withdrawn", (A, withdrawal("w", "a"), withdrawal("x", "w")), ("a",)),
    Scenario("that withdrawal withdrawn too",
             (A, withdrawal("w", "a"), withdrawal("x", "w"), withdrawal("y", "x")), ()),
    Scenario("the correction withdrawn", (A, B, withdrawal("w", "b")), ("a",)),
    Scenario("the end of a chain withdrawn", (A, B, C, withdrawal("w", "c")), ("b",)),
    Scenario("the whole chain withdrawn from its end",
             (A, B, C, withdrawal("w", "c"), withdrawal("x", "b"), withdrawal("y", "a")), ()),
    Scenario("the middle of a chain withdrawn", (A, B, C, withdrawal("w", "b")), ("c",),
             doubts=((WITHDRAWN_TOO, "b"),)),
    Scenario("a corrected original withdrawn", (A, B, withdrawal("w", "a")), ("b",),
             doubts=((WITHDRAWN_TOO, "a"),)),
    Scenario("rivals", (A, B, Row("c", "a")), ("b", "c"), ("b", "c"), ((RIVALS, "a"),)),
    Scenario("rivals, one corrected", (A, B, Row("c", "a"), Row("d", "b")), ("c", "d"),
             ("c", "d"), ((RIVALS, "a"),)),
    Scenario("rivals, one withdrawn", (A, B, Row("c", "a"), withdrawal("w", "b")), ("c",)),
    Scenario("rivals, both withdrawn",
             (A, B, Row("c", "a"), withdrawal("w", "b"), withdrawal("x", "c")), ("a",)),
    Scenario("a ring", (Row("a", "b"), B), ("a", "b"), ("a", "b"), ((RING, "a"),)),
    Scenario("a ring of three", (Row("a", "c"), B, C), ("a", "b", "c"), ("a", "b", "c"),
             ((RING, "a"),)),
    Scenario("a ring, one corrected from outside", (Row("a", "b"), B, Row("c", "a")), ("b", "c"),
             ("b", "c"), ((RING, "a"),)),
    Scenario("a ring, one withdrawn", (Row("a", "b"), B, withdrawal("w", "a")), ("b",)),
    Scenario("a ring of withdrawals", (A, withdrawal("w", "x"), withdrawal("x", "w")), ("a",),
             doubts=()),
    Scenario("the correction comes first", (B, A), ("b",)),
    Scenario("the withdrawal comes first", (withdrawal("w", "a"), A), ()),
    Scenario("what is corrected never comes", (B,), ("b",), doubts=((WAITING, "b"),)),
    Scenario("what is withdrawn never comes", (withdrawal("w", "a"),), (),
             doubts=((WAITING, "w"),)),
    Scenario("the office corrects", (A, Row("b", "a", by=OFFICE)), ("b",)),
    Scenario("the office withdraws", (A, withdrawal("w", "a", OFFICE)), ()),
    Scenario("a mate's correction comes first", (Row("b", "a", by=MATE), A), ("a",),
             doubts=((NOT_PERMITTED, "b"),)),
    Scenario("a mate's withdrawal comes first", (withdrawal("w", "a", MATE), A), ("a",),
             doubts=((NOT_PERMITTED, "w"),)),
    Scenario("a mate's correction is withdrawn by the office",
             (Row("b", "a", by=MATE), A, withdrawal("w", "b", OFFICE)), ("a",)),
    Scenario("another kind", (A, Row("b", "a", OTHER)), ("a", "b"), doubts=((OTHER_KIND, "b"),)),
    Scenario("another kind, withdrawn", (A, Row("b", "a", OTHER), withdrawal("w", "b")), ("a",)),
    Scenario("a correction of a withdrawal", (A, withdrawal("w", "a"), Row("b", "w")), ("b",),
             doubts=((OTHER_KIND, "b"),)),
    Scenario("another site", (A, Row("b", "a", site=THERE)), ("a", "b"),
             doubts=((OTHER_SITE, "b"),)),
    Scenario("moved to another site", (A, Row("b", "a", site=THERE, moves=True)), ("b",)),
    Scenario("moved and back", (A, Row("b", "a", site=THERE, moves=True),
                                Row("w", "b", WITHDRAWAL, site=THERE)), ("a",)),
    Scenario("withdrawn from another site", (A, Row("w", "a", WITHDRAWAL, site=THERE)), ("a",),
             doubts=((OTHER_SITE, "w"),)),
)  # fmt: skip


def nodes_of(scenario: Scenario, kind: str) -> list[Node]:
    """Return the entries of a scenario for a kind, as the rule knows them."""
    other = "visit" if kind != "visit" else "photo"
    kinds = {KIND: kind, OTHER: other, WITHDRAWAL: WITHDRAWAL}
    return [
        Node(
            id=row.id,
            kind=kinds[row.kind],
            site_id=1 if row.site == HERE else 2,
            by_id=PEOPLE[row.by],
            any_author=row.by == OFFICE,
            moves=row.moves,
            corrects=row.corrects,
        )
        for row in scenario.rows
    ]
