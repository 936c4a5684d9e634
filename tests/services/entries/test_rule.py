"""The rule of what stands, by itself: every word of its docstring, and any graph of entries.

No published source: the rule is the tool's own, from the record rules of field practice (an
observation is never changed; a correction is a new row).
"""

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.hydraulics.base.findings import Fault
from app.hydraulics.series.faults import find_faults
from app.services.entries.kinds import BODIES
from app.services.entries.standing import (
    ACTS,
    NOT_PERMITTED,
    OTHER_KIND,
    OTHER_SITE,
    RING,
    RIVALS,
    WAITING,
    WITHDRAWAL,
    WITHDRAWN_TOO,
    Node,
    Standing,
)
from tests.paths import ROOT
from tests.services.entries.scenarios import CREW, KIND, OFFICE, SCENARIOS, Scenario, nodes_of

KINDS = sorted(set(BODIES) - {WITHDRAWAL})


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda s: s.name)
def test_each_kind_and_each_scenario(scenario: Scenario, kind: str) -> None:
    found = Standing(nodes_of(scenario, kind))
    named = [row.id for row in scenario.rows]
    assert [one for one in named if found.stands(one)] == list(scenario.stand)
    assert [one for one in scenario.stand if found.rival(one)] == list(scenario.rivals)
    assert [(d.word, d.entry_id) for d in found.doubts()] == list(scenario.doubts)


# Graphs of eight entries at two sites by two people: rings, forks, withdrawals of withdrawals.
IDS = [f"e{k}" for k in range(8)]
NODES = st.tuples(
    *(
        st.builds(
            Node,
            id=st.just(one),
            kind=st.sampled_from(["a", "a", "a", "b", WITHDRAWAL, WITHDRAWAL]),
            site_id=st.sampled_from([1, 1, 1, 2]),
            by_id=st.sampled_from([1, 1, 2]),
            any_author=st.booleans(),
            moves=st.booleans(),
            corrects=st.one_of(st.none(), st.sampled_from([*IDS, "absent"]), st.sampled_from(IDS)),
        )
        for one in IDS
    )
)


def plainly(nodes: dict[str, Node], key: str, doing: frozenset[str] = frozenset()) -> bool:
    """Tell whether an entry stands, straight from the docstring and without its arithmetic."""

    def word(one: str) -> str:
        node, named = nodes[one], nodes.get(nodes[one].corrects or "")
        if node.corrects is None:
            return ""
        if named is None:
            return WAITING
        if node.kind not in (WITHDRAWAL, named.kind):
            return OTHER_KIND
        if node.site_id != named.site_id and not (node.moves and node.kind != WITHDRAWAL):
            return OTHER_SITE
        return ACTS if node.any_author or node.by_id == named.by_id else NOT_PERMITTED

    def in_ring(one: str) -> bool:
        at = one
        for _ in range(len(nodes) + 1):
            if word(at) != ACTS:
                return False
            at = nodes[at].corrects or ""
            if at == one:
                return True
        return False

    def naming(one: str, *, withdrawals: bool) -> list[str]:
        return [
            k
            for k, n in nodes.items()
            if n.corrects == one
            and word(k) == ACTS
            and not in_ring(k)
            and (n.kind == WITHDRAWAL) == withdrawals
        ]

    def withdrawn(one: str) -> bool:
        return any(not withdrawn(w) for w in naming(one, withdrawals=True))

    def counts(one: str) -> bool:
        return not withdrawn(one) or any(counts(c) for c in naming(one, withdrawals=False))

    return (
        nodes[key].kind != WITHDRAWAL
        and word(key) != NOT_PERMITTED
        and not withdrawn(key)
        and not any(counts(c) for c in naming(key, withdrawals=False))
    )


@settings(max_examples=400, deadline=None)
@given(NODES, st.randoms(use_true_random=False))
def test_any_graph_stands_as_the_docstring_says_in_any_order(
    nodes: tuple[Node, ...], chance: random.Random
) -> None:
    found = Standing(nodes)
    by_id = {node.id: node for node in nodes}
    assert {k for k in IDS if found.stands(k)} == {k for k in IDS if plainly(by_id, k)}
    shuffled = list(nodes)
    chance.shuffle(shuffled)
    again = Standing([*shuffled, *shuffled])
    assert again.gone == found.gone
    assert again.doubts() == found.doubts()
    assert [again.rival(k) for k in IDS] == [found.rival(k) for k in IDS]
    assert [again.latest(k) for k in IDS] == [found.latest(k) for k in IDS]


@settings(max_examples=400, deadline=None)
@given(NODES)
def test_nothing_vanishes_without_a_successor_or_a_withdrawal(nodes: tuple[Node, ...]) -> None:
    found = Standing(nodes)
    for node in nodes:
        if node.kind == WITHDRAWAL or found.stands(node.id):
            continue
        withdrawals = found.withdrawals(node.id)
        assert all(not found.withdrawals(w) and found.word(w) == ACTS for w in withdrawals)
        refused = found.word(node.id) == NOT_PERMITTED
        successors = [one for one in found.tips(node.id) if one != node.id]
        assert all(found.stands(one) for one in successors)
        assert withdrawals or refused or successors, node
        if refused:  # said in review unless a withdrawal has settled it
            assert withdrawals or any(d.entry_id == node.id for d in found.doubts())


@settings(max_examples=200, deadline=None)
@given(NODES)
def test_every_kind_alike_and_strangers_change_nothing(nodes: tuple[Node, ...]) -> None:
    found = Standing(nodes)
    swap = {"a": "b", "b": "a", WITHDRAWAL: WITHDRAWAL}

    def other(node: Node, kind: str) -> Node:
        return Node(
            id=node.id,
            kind=kind,
            site_id=node.site_id,
            by_id=node.by_id,
            any_author=node.any_author,
            moves=node.moves,
            corrects=node.corrects,
        )

    assert Standing([other(n, swap[n.kind]) for n in nodes]).gone == found.gone
    lone = Node(id="x", kind="a", site_id=1, by_id=1)
    assert Standing([*nodes, lone]).gone == found.gone
    assert found.family(["absent"]) == []
    part = Standing(found.family(["e0"]))
    assert all(part.stands(n.id) == found.stands(n.id) for n in part.nodes.values())


def test_a_line_of_ten_thousand_corrections_is_no_burden() -> None:
    nodes = [Node(id="n00000", kind="a", site_id=1, by_id=1)]
    nodes += [
        Node(id=f"n{k:05}", kind="a", site_id=1, by_id=1, corrects=f"n{k - 1:05}")
        for k in range(1, 10_001)
    ]
    found = Standing(nodes)
    assert [n.id for n in nodes if found.stands(n.id)] == ["n10000"]
    assert found.latest("n00000") == "n10000"
    assert not found.rival("n10000")


def test_the_words_are_those_of_the_scenarios() -> None:
    seen = {word for scenario in SCENARIOS for word, _ in scenario.doubts}
    assert seen == {WAITING, OTHER_KIND, OTHER_SITE, NOT_PERMITTED, RING, RIVALS, WITHDRAWN_TOO}
    assert (CREW, OFFICE, KIND) == ("crew", "office", "kind")


def test_one_service_file_reads_what_an_entry_corrects() -> None:
    app = ROOT / "app"
    found = [p for p in app.rglob("*.py") if "corrects_id" in p.read_text("utf-8")]
    here = sorted(p.relative_to(app).as_posix() for p in found)
    assert here == ["records/entries.py", "services/entries/links.py"]


def test_a_step_by_a_gate_is_kept_for_who_leaves_it_out_later() -> None:
    """A visit that is withdrawn explains no step any more, without making the series again."""
    t = np.arange(200, dtype=np.int64) * 900
    head = np.where(t < 90_000, 0.2, 0.3)

    def steps(*, kept: bool) -> int:
        found = find_faults(t, head, gate_changes_s=[90_000], steps_by_gates=kept)
        return sum(one.kind == Fault.STEP for one in found)

    assert (steps(kept=False), steps(kept=True)) == (0, 1)
