"""Which entries stand: the one rule for every kind, the office's and the phone's.

An entry never changes and is never deleted; a later entry may name it in `corrects`. What counts
follows from the set of stored entries alone, never from the order in which they came.

**A link acts** when its entry and the one it names are both here and
- the kinds are equal, or the entry is a withdrawal (which may name any kind, a withdrawal too);
- the sites are equal, or the entry was made as a move of it to another site (`moves`);
  another structure of the same site needs no mark;
- whoever made it was of the office when it was received, or made the named entry too.
Any other link has no effect on what it names:
- *waiting*, the named entry is not here (or was refused): a correction counts as an entry of its
  own until that comes; a withdrawal does nothing yet;
- *other kind*, *other site*: an entry of its own, for good;
- *not permitted*: crew named an entry of somebody else. The entry does not count. It is kept and
  listed in review: sync refuses no link, so that nothing hangs on which entry came first.

**Rings** (a corrects b, b corrects a, however long): the links of the ring have no effect. All its
entries stand, marked as rivals, until corrections from outside or withdrawals leave one.

**A withdrawal is in force** when its link acts and no withdrawal in force names it. Twice is as
once: one of two withdrawals in force is enough. Withdrawals in a ring have no effect.

**A correction counts** when its link acts and it is not withdrawn, or a correction of it counts.
So withdrawing a correction brings back what it corrected, unless another correction counts;
withdrawing the middle of a chain changes nothing while its end stands; withdrawing an original
that is corrected takes nothing from the correction (both are shown in review).

**An entry stands** unless it is a withdrawal, is not permitted, is withdrawn by a withdrawal in
force, or has a correction that counts. Rivals, two corrections of one entry that count, both stand
and are marked. Where an entry stands is where it says: a correction that names another structure
moves the entry there.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

WITHDRAWAL = "withdrawal"

ACTS = "acts"
WAITING = "waiting"
OTHER_KIND = "other kind"
OTHER_SITE = "other site"
NOT_PERMITTED = "not permitted"
RING = "ring"
RIVALS = "rivals"
WITHDRAWN_TOO = "withdrawn too"


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """What the rule knows of an entry. `any_author`: made by the office, which may correct all."""

    id: str
    kind: str
    site_id: int
    by_id: int
    any_author: bool = False
    moves: bool = False
    corrects: str | None = None


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something for review: an entry, the word for it, and the other entries it is about."""

    entry_id: str
    word: str
    others: tuple[str, ...]


def link_word(node: Node, named: Node | None) -> str:
    """Return what the link of an entry does, rings aside."""
    if named is None:
        return WAITING
    if node.kind not in (WITHDRAWAL, named.kind):
        return OTHER_KIND
    if node.site_id != named.site_id and not (node.moves and node.kind != WITHDRAWAL):
        return OTHER_SITE
    if not node.any_author and node.by_id != named.by_id:
        return NOT_PERMITTED
    return ACTS


class Standing:
    """The rule applied to a set of entries; entries not in the set have no link and stand."""

    def __init__(self, nodes: Iterable[Node]) -> None:
        self.nodes = {node.id: node for node in nodes}
        self._word = {
            key: link_word(node, self.nodes.get(node.corrects))
            for key, node in self.nodes.items()
            if node.corrects is not None
        }
        acting = {k: self.nodes[k].corrects or "" for k, w in self._word.items() if w == ACTS}
        self._named_by: dict[str, list[str]] = defaultdict(list)
        for key in sorted(acting):
            self._named_by[acting[key]].append(key)
        self._withdrawals: dict[str, list[str]] = {}  # in force, of each entry that has any
        self._counting: dict[str, list[str]] = {}  # corrections that count, of each with any
        left = {key: len(self._named_by.get(key, ())) for key in self.nodes}
        ready = [key for key, count in left.items() if count == 0]
        while ready:  # from the ends of the lines to their beginnings; a ring is never ready
            key = ready.pop()
            self._judge(key, self._named_by.get(key, ()))
            if (named := acting.get(key)) is not None:
                left[named] -= 1
                if left[named] == 0:
                    ready.append(named)
        ring = {key for key, count in left.items() if count > 0}
        for key in ring:
            self._word[key] = RING
            self._judge(key, [one for one in self._named_by[key] if one not in ring])

    def _judge(self, key: str, named_by: Sequence[str]) -> None:
        """Note what of the acting links to an entry is in force; their own entries are judged."""
        withdrawals = [
            one
            for one in named_by
            if self.nodes[one].kind == WITHDRAWAL and one not in self._withdrawals
        ]
        counting = [
            one
            for one in named_by
            if self.nodes[one].kind != WITHDRAWAL
            and (one not in self._withdrawals or one in self._counting)
        ]
        if withdrawals:
            self._withdrawals[key] = withdrawals
        if counting:
            self._counting[key] = counting

    @cached_property
    def gone(self) -> frozenset[str]:
        """Return the entries that do not stand."""
        return frozenset(
            key
            for key, node in self.nodes.items()
            if node.kind == WITHDRAWAL
            or key in self._withdrawals
            or key in self._counting
            or self._word.get(key) == NOT_PERMITTED
        )

    def stands(self, entry_id: str) -> bool:
        return entry_id not in self.gone

    def word(self, entry_id: str) -> str:
        """Return what the link of an entry does; empty when it names none."""
        return self._word.get(entry_id, "")

    def replaced_by(self, entry_id: str) -> list[str]:
        """Return the corrections of an entry that count."""
        return list(self._counting.get(entry_id, ()))

    def withdrawals(self, entry_id: str) -> list[str]:
        """Return the withdrawals of an entry that are in force."""
        return list(self._withdrawals.get(entry_id, ()))

    def corrections(self, entry_id: str) -> list[str]:
        """Return every correction of an entry whose link acts, counting or not."""
        found = self._named_by.get(entry_id, ())
        return [one for one in found if self.nodes[one].kind != WITHDRAWAL]

    def line(self, entry_id: str) -> list[str]:
        """Return an entry and what it corrects, back to the first; a ring is walked once."""
        found, seen = [entry_id], {entry_id}
        while self._word.get(found[-1]) in (ACTS, RING):
            earlier = self.nodes[found[-1]].corrects
            if earlier is None or earlier in seen:
                break
            found.append(earlier)
            seen.add(earlier)
        return found

    def tips(self, entry_id: str) -> list[str]:
        """Return what stands in the place of an entry: itself, or the ends of its corrections."""
        found, todo = [], [entry_id]
        while todo:
            one = todo.pop()
            todo += reversed(self._counting.get(one, ()))
            if self.stands(one):
                found.append(one)
        return found

    def latest(self, entry_id: str) -> str | None:
        """Return the entry that stands in the place of another; None when none does.

        Of rivals the one whose id sorts last, which is the one made last.
        """
        return max(self.tips(entry_id), default=None)

    def rival(self, entry_id: str) -> bool:
        """Tell whether another correction of the same entry counts beside this one's line."""
        line = self.line(entry_id)
        if any(len(self._counting.get(one, ())) > 1 for one in line[1:]):
            return True
        ring = [one for one in line if self._word.get(one) == RING]
        return sum(1 for one in ring if self.tips(one)) > 1

    def doubts(self) -> list[Doubt]:
        """Return what a person should look at, in the order of ids; what is settled is left out."""
        found = []
        for key, word in self._word.items():
            if word not in (ACTS, RING) and key not in self._withdrawals:
                found.append(Doubt(key, word, (self.nodes[key].corrects or "",)))
        for key, counting in self._counting.items():
            if len(counting) > 1:
                found.append(Doubt(key, RIVALS, tuple(counting)))
            if key in self._withdrawals:
                found.append(Doubt(key, WITHDRAWN_TOO, tuple(counting)))
        seen: set[str] = set()
        for key in sorted(k for k, word in self._word.items() if word == RING):
            if key not in seen:
                ring = [one for one in self.line(key) if self._word.get(one) == RING]
                seen.update(ring)
                live = tuple(sorted(one for one in ring if self.tips(one)))
                if len(live) > 1:
                    found.append(Doubt(key, RING, live))
        return sorted(found, key=lambda one: (one.entry_id, one.word))

    def family(self, ids: Iterable[str]) -> list[Node]:
        """Return every entry that hangs together with some of them by links, in order of id."""
        beside: dict[str, list[str]] = defaultdict(list)
        for key, node in self.nodes.items():
            if node.corrects in self.nodes:
                beside[key].append(node.corrects or "")
                beside[node.corrects or ""].append(key)
        todo, seen = [one for one in ids if one in self.nodes], set()
        while todo:
            one = todo.pop()
            if one not in seen:
                seen.add(one)
                todo += beside[one]
        return [self.nodes[key] for key in sorted(seen)]
