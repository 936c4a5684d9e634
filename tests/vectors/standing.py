"""Cases of standing_vectors.json: the rule of what stands.

Every scenario for one kind, and graphs by chance of up to nine entries at two sites by two people.
"""

import random
from typing import Any

from app.services.entries.standing import WITHDRAWAL, Node, Standing
from tests.services.entries.scenarios import SCENARIOS, nodes_of
from tests.vectors.harness import case

GRAPHS = 120
SEED = 20_261_125


def as_sent(node: Node) -> dict[str, Any]:
    return {
        "id": node.id,
        "kind": node.kind,
        "site_id": node.site_id,
        "by": node.by_id,
        "any": node.any_author,
        "moves": node.moves,
        "corrects": node.corrects,
    }


def answer(nodes: list[Node]) -> dict[str, Any]:
    found = Standing(nodes)
    ids = sorted({node.id for node in nodes})
    return {
        "stand": [one for one in ids if found.stands(one)],
        "rivals": [one for one in ids if found.rival(one)],
        "latest": {one: found.latest(one) for one in ids},
    }


def graph(chance: random.Random) -> list[Node]:
    ids = [f"e{k}" for k in range(chance.randint(2, 9))]
    return [
        Node(
            id=one,
            kind=chance.choice(["a", "a", "a", "b", WITHDRAWAL, WITHDRAWAL]),
            site_id=chance.choice([1, 1, 1, 1, 2]),
            by_id=chance.choice([1, 1, 1, 2]),
            any_author=chance.random() < 0.3,
            moves=chance.random() < 0.3,
            corrects=chance.choice([None, *ids, *ids, "absent"]),
        )
        for one in ids
    ]


def vectors() -> list[dict[str, Any]]:
    chance = random.Random(SEED)
    graphs = [(s.name, nodes_of(s, "head_reading")) for s in SCENARIOS]
    graphs += [(f"by chance {k + 1}", graph(chance)) for k in range(GRAPHS)]
    return [
        case(
            name,
            "standing",
            {"nodes": [as_sent(node) for node in nodes]},
            {"result": answer(nodes)},
            source=("app/services/entries/standing.py: the tool's own rule", "derived"),
        )
        for name, nodes in graphs
    ]
