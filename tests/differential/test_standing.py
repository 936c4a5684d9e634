"""Which entries stand: graphs drawn by chance, the phone's rule against the office's."""

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from app.services.entries.standing import WITHDRAWAL, Node, Standing
from tests.differential.harness import Phone, drawn, same

NAMES = [f"e{k}" for k in range(9)]
NODES = st.lists(
    st.builds(
        Node,
        id=st.sampled_from(NAMES),
        kind=st.sampled_from(["reading", "reading", "gauging", WITHDRAWAL]),
        site_id=st.sampled_from([1, 1, 1, 2]),
        by_id=st.sampled_from([1, 1, 2]),
        any_author=st.booleans(),
        moves=st.booleans(),
        corrects=st.sampled_from([None, "absent", *NAMES]),
    ),
    max_size=9,
    unique_by=lambda node: node.id,
)


def told(node: Node) -> dict[str, Any]:
    return {
        "id": node.id,
        "kind": node.kind,
        "site_id": node.site_id,
        "by": node.by_id,
        "any": node.any_author,
        "moves": node.moves,
        "corrects": node.corrects,
    }


@drawn
@given(nodes=NODES, shuffled=st.randoms(use_true_random=False))
def test_the_same_entries_stand_in_any_order(phone: Phone, nodes: list[Node], shuffled) -> None:
    links = Standing(nodes)
    ids = sorted(node.id for node in nodes)
    mixed = list(nodes)
    shuffled.shuffle(mixed)
    same(
        phone.ask("standing", [told(node) for node in mixed])["result"],
        {
            "stand": [one for one in ids if links.stands(one)],
            "rivals": [one for one in ids if links.rival(one)],
            "tips": {one: sorted(links.tips(one)) for one in ids},
            "latest": {one: links.latest(one) for one in ids},
        },
        str(nodes),
    )
