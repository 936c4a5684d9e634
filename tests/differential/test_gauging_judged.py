"""A portable device, and a gauging judged by the rating in force, on both roads."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from app.hydraulics.families.registry import build
from app.hydraulics.rating.curve import phone_table
from app.language import typed
from app.language.clock import iso
from app.records.sites import Rating
from app.services.gaugings.portable import portable_cards
from app.services.gaugings.results import judged, rate_all, unjudged
from app.services.gaugings.work import worked
from tests.builders.rows import NOW, entry_row, structure_row, zero_row
from tests.differential.harness import Phone, answered, drawn, same
from tests.differential.test_gauging_typed import FILLS, maybe, texts


def to_mm(text: str) -> float:
    return typed.figure("heads_mm", text)


@drawn
@given(
    place=st.integers(0, len(portable_cards()) - 1),
    heads=st.lists(texts(5, 300, 1), max_size=3),
    spread=maybe(texts(0.5, 5, 1)),
    seen=st.booleans(),
)
def test_a_portable_device(phone: Phone, place: int, heads, spread, seen) -> None:
    """Its table on the phone is thinned: 0.05 % of discharge, flags and refusals alike."""
    card = portable_cards()[place]
    observed = {
        "method": "portable",
        "described": card["label"],
        "heads_mm": heads,
        "free_seen": seen,
        "device": {key: card[key] for key in ("key", "family", "dims")},
        "head_uncertainty_mm": spread,
        "discharge_l_s": None,
        "uncertainty_pct": None,
    }
    office = answered(lambda: worked(observed))
    got = phone.ask("gauging_methods.worked", observed, {"portable": [card]})
    where = str(observed)
    if "result" in office and got.get("error", {}).get("rule", "").endswith("not rated"):
        mean_m = sum(map(to_mm, heads)) / len(heads) / 1000.0
        assert mean_m < card["table"]["heads_m"][0], where  # under the phone's table: the office's
        return
    assert sorted(got) == sorted(office), (where, got, office)
    if "error" in office:
        same(got, office, where)
        return
    mine, theirs = got["result"], office["result"]
    same(mine["discharge_m3s"], theirs["discharge_m3s"], where, 5e-4)
    same(mine["uncertainty_pct"], theirs["uncertainty_pct"], where, 0.02)
    server_only = {"outside ISO limits", "approach too fast", "geometry outside limits"}
    assert sorted(mine["flags"]) == sorted(set(theirs["flags"]) - server_only), where


DEVICE = build("parshall", {"size": "1ft"})
TABLE = phone_table(DEVICE)
ZERO_AT = NOW - timedelta(days=100)


@drawn
@given(
    fills=FILLS,
    staff=st.lists(st.integers(-10, 400).map(lambda mm: mm / 1000), max_size=4),
    steps=st.lists(st.integers(-1, 10), min_size=4, max_size=4),
    tail=st.one_of(st.none(), st.integers(0, 400).map(lambda mm: mm / 1000)),
    state=st.sampled_from(["read", "clearly_free", "not_seen"]),
    zero_known=st.sampled_from([True, True, True, False]),
    rated=st.sampled_from([True, True, True, False]),
    offset_mm=st.integers(-5, 5),
)
def test_the_judgement_of_a_gauging(
    phone: Phone, fills, staff, steps, tail, state, zero_known, rated, offset_mm
) -> None:
    """Mean head, rated discharge, verdict and flags from the same heads and dated rows."""
    moments, at = [], NOW
    for minutes in steps[: len(staff)]:
        moments.append(at)
        at += timedelta(minutes=minutes)
    tail = tail if state == "read" else None
    state = "not_seen" if state == "read" and tail is None else state
    body = {
        "observed": fills,
        "started_at": iso(NOW),
        "ended_at": iso(at),
        "heads": [
            {"at": iso(moment), "staff_m": value}
            for moment, value in zip(moments, staff, strict=True)
        ],
        "tailwater": {"state": state, "staff_m": tail},
    }
    zero = zero_row(ZERO_AT, offset_mm / 1000) if zero_known else None
    rating = (
        Rating(id=1, structure_id=1, valid_from=ZERO_AT, family="parshall", dims={"size": "1ft"})
        if rated
        else None
    )
    structure = structure_row()
    entry = entry_row("check_gauging", body, structure.id)
    one = unjudged(entry, structure, zero, rating)
    office = judged(replace(one, rating=rate_all([(one, rating)])[0]))
    place = {
        "gauge_zeros": []
        if zero is None
        else [
            {
                "id": 1,
                "valid_from": iso(ZERO_AT),
                "offset_m": zero.offset_m,
                "tail_offset_m": zero.tail_offset_m,
            }
        ],
        "ratings": []
        if rating is None
        else [{"id": 1, "valid_from": iso(ZERO_AT), "table": TABLE}],
        "head_uncertainty_m": 0.003,
    }
    seen = {"heads": body["heads"], "tailwater": body["tailwater"], "startedAt": iso(NOW)}
    at_head = phone.ask("gauging_verdict.rateAtHead", seen, place)["result"]
    found = phone.ask("gauging_methods.worked", fills).get("result")
    got = phone.ask("gauging_verdict.judge", found, at_head)["result"]
    where = str(body)
    same(at_head["heads_m"], office.heads_m, where)
    same(at_head["head"], answered(lambda: office.head)["result"], where)
    if rated and office.head and 0.0 < office.head.mean_m < TABLE["heads_m"][0]:
        assert at_head["rated"]["note"], where  # under the phone's table the office alone rates
        return
    assert at_head["lacking"] == office.rating.lacking, where
    assert sorted(got["flags"]) == sorted(office.flags), where
    if office.verdict is None:
        assert got["verdict"] is None, where
        return
    said = got["verdict"]
    assert (said["word"], said["tolerance_word"]) == (office.word, office.verdict.tolerance_word), (
        where
    )
    if office.rating.discharge_m3s:
        same(at_head["rated"]["discharge_m3s"], office.rating.discharge_m3s, where, 5e-4)
    else:
        assert said["reason"] == office.reason, where
