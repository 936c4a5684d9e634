"""A plan looked at again on the phone against the office's sums; tail levels between flows."""

import re
from typing import Any

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from app.errors import BadInput
from app.hydraulics.channel.tail_levels import tail_levels
from app.services.plans.inputs import plan_inputs
from app.services.plans.work import work_out
from tests.builders.plan_cases import PLAN
from tests.differential.harness import Phone, dear, drawn, same

# 64 nodes of six digits instead of the rating itself: under 0.2 % of every length and 1 % of the
# uncertainty (tests/phone/plan_sums.test.js states the same); lengths to a millimetre
LENGTH_SHARE, PCT_SHARE, LENGTH_M = 0.002, 0.01, 0.0006
LENGTHS = (
    "head_m",
    "submergence_ratio",
    "submergence_weedy",
    "modular_limit",
    "upstream_level_m",
    "freeboard_m",
    "freeboard_needed_m",
)
OFFICE_ONLY = ("approach",)


def shape_of(words: list[str]) -> set[str]:
    return {re.sub(r"[\d.]+", "#", word) for word in words if not word.startswith(OFFICE_ONLY)}


@dear
@given(
    flows=st.lists(st.integers(3, 140), min_size=3, max_size=3, unique=True).map(sorted),
    structure=st.sampled_from(
        ["cutthroat|3ftx8in", "parshall|9in", "parshall|6in", "cutthroat|3ftx4in"]
    ),
    weed_mm=st.sampled_from(["0", "50", "120"]),
    bank=st.sampled_from(["", "49.72", "49.30", "49.15"]),
    crest=st.sampled_from(["", "48.96", "49.05", "48.93"]),
)
def test_a_candidate_is_judged_alike(phone: Phone, flows, structure, weed_mm, bank, crest) -> None:
    changed = {
        name: str(flow)
        for name, flow in zip(("q_min_l_s", "q_mid_l_s", "q_max_l_s"), flows, strict=True)
    }
    changed |= {
        "weed_margin_mm": weed_mm,
        "bank_rl_m": bank,
        "crest_rl_m": crest,
        "permit_l_s": "",
        "candidate_1": structure,
        "candidate_2": "",
        "candidate_3": "",
        "dims_3": "",
    }
    try:
        result = work_out(plan_inputs(PLAN | changed))
    except BadInput:
        assume(False)
    one = result["candidates"][0]
    assume("problem" not in one and one["table"] is not None)
    question = {
        "flows_m3s": result["flows_m3s"],
        "tails_m": result["tail_levels_m"],
        "weed_m": result["weed_margin_m"],
        "floor_rl_m": result["floor_rl_m"],
        "bank_rl_m": result["bank_rl_m"],
        "crest_rl_m": one["crest_rl_m"],
        "head_uncertainty_m": result["head_uncertainty_m"],
    }
    got = phone.ask("plan_sums.judge", one["table"], question)["result"]
    where = str(changed)
    table = one["table"]
    inside = [
        table["discharge_m3s"][0] <= q <= table["discharge_m3s"][-1] for q in result["flows_m3s"]
    ]
    if all(inside):
        assert abs(got["crest_needed_m"] - one["crest_needed_m"]) < LENGTH_M, where
        if not crest:
            again = phone.ask("plan_sums.judge", table, question | {"crest_rl_m": None})["result"]
            step = abs(again["crest_rl_m"] - one["crest_rl_m"])
            assert step < 1e-9 or abs(step - 0.005) < 1e-9, where
    for mine, theirs, known in zip(got["flows"], one["flows"], inside, strict=True):
        if not known:
            assert mine["head_m"] is None, where
            continue
        for key in LENGTHS:
            told = f"{where} {key}"
            if theirs[key] is None:
                assert mine[key] is None, told
            elif "ratio" in key or "weedy" in key or "limit" in key or key == "head_m":
                assert abs(mine[key] - theirs[key]) <= LENGTH_SHARE * max(abs(theirs[key]), 0.05), (
                    told
                )
            else:
                assert abs(mine[key] - theirs[key]) <= LENGTH_M, told
        same(
            mine["discharge_uncertainty_pct"], theirs["discharge_uncertainty_pct"], where, PCT_SHARE
        )
        if not on_an_edge(theirs):
            assert shape_of(mine["words"]) == shape_of(theirs["reasons"]), (where, mine, theirs)


def on_an_edge(flow: dict[str, Any]) -> bool:
    """Tell whether a table of six digits could decide a word."""
    limit, board = flow["modular_limit"], flow["freeboard_m"]
    near = board is not None and min(abs(board), abs(board - flow["freeboard_needed_m"])) < LENGTH_M
    if limit is not None:
        weedy, ratio = flow["submergence_weedy"], flow["submergence_ratio"]
        near = near or min(abs(weedy - limit), abs(ratio - limit)) < 2 * LENGTH_SHARE
    return near


@drawn
@given(
    flows=st.lists(st.floats(0.002, 0.5), min_size=2, max_size=5, unique=True).map(sorted),
    rises=st.lists(st.floats(0.002, 0.2), min_size=5, max_size=5),
    wanted=st.floats(0.001, 1.0),
)
def test_a_tail_level_between_flows(phone: Phone, flows, rises, wanted) -> None:
    assume(min(np.diff(np.log(flows))) > 0.05)
    levels = (48.8 + np.cumsum(rises))[: len(flows)].tolist()
    office, _ = tail_levels(flows, levels, 48.8, wanted)
    got = phone.ask("plan_sums.tailAt", flows, levels, 48.8, wanted)["result"]
    same(got, float(office[0]), f"{flows} {levels} {wanted}")


@drawn
@given(
    heads=st.lists(st.floats(0.01, 1.0), min_size=2, max_size=6, unique=True).map(sorted),
    exponent=st.floats(1.0, 3.0),
    discharge=st.floats(1e-4, 2.0),
)
def test_a_head_for_a_discharge(phone: Phone, heads, exponent, discharge) -> None:
    """Straight in ln h and ln Q is exact for a power law, whoever works it out."""
    assume(min(np.diff(heads)) > 1e-4)
    table = {"heads_m": heads, "discharge_m3s": [0.69 * h**exponent for h in heads]}
    got = phone.ask("plan_sums.headFor", table, discharge)["result"]
    if not table["discharge_m3s"][0] <= discharge <= table["discharge_m3s"][-1]:
        assert got is None
    else:
        same(got, (discharge / 0.69) ** (1 / exponent), f"{heads} {exponent} {discharge}", 1e-8)
