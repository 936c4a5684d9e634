"""Many structures at once against each of them alone, and heads solved backwards."""

import numpy as np
import pytest
from scipy.optimize import brentq

from app.errors import BadInput
from app.hydraulics.base.units import G
from app.hydraulics.channel.sections import Rectangle, Trapezoid
from app.hydraulics.channel.uniform import froude, normal_depth
from app.hydraulics.families.registry import DEVICES
from app.hydraulics.families.workshop.sizes import trials
from app.hydraulics.install.many import Maker, Place, judge_many
from app.hydraulics.install.sill import sill_choice
from app.hydraulics.rating.inverse import discharge_to_head
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Device
from app.hydraulics.structure.total_head import ByTotalHead, gauged_head
from app.services.plans.choosing.answer import maker
from app.services.plans.choosing.question import question

RACE = Trapezoid(0.8, 1.0)
FLOWS = np.geomspace(0.004, 0.12, 9)
CRESTS = np.linspace(0.0, 0.6, 40)
TAIL = normal_depth(RACE, FLOWS, 0.03, 0.0005)
PLACE = Place(RACE, FLOWS, TAIL, 0.8)
ASKED = question(
    {"min": "0.004", "max": "0.12", "race": "trap:b=0.8,m=1,slope=0.0005,n=0.03", "bank": "0.8"}
)
TRIALS = [t for t in trials(RACE, 0.12) if not t.unsuited]
MAKERS = [maker(ASKED, t) for t in TRIALS]
MANY = judge_many(MAKERS, PLACE, CRESTS)


@pytest.mark.parametrize("row", range(0, len(TRIALS), 4), ids=lambda i: TRIALS[i].label)
def test_heads_are_those_of_the_rating_itself(row: int) -> None:
    for c in (3, 12, 30):
        device = MAKERS[row].build(float(CRESTS[c]))
        exact = discharge_to_head(device, FLOWS)
        found = MANY.head_m[row, c]
        both = np.isfinite(exact) & np.isfinite(found) & (exact <= device.head_limit_m)
        assert found[both] == pytest.approx(exact[both], rel=3e-3, abs=2e-4)
        inside = np.isfinite(exact) & (exact >= device.head_min_m) & (exact <= device.head_max_m)
        assert np.isfinite(found[inside]).all()


@pytest.mark.parametrize("row", range(1, len(TRIALS), 5), ids=lambda i: TRIALS[i].label)
def test_judgement_is_that_of_the_one_engine(row: int) -> None:
    crest = float(CRESTS[14])
    device = MAKERS[row].build(crest)
    try:
        choice = sill_choice(
            device, FLOWS, tail_levels_m=TAIL, floor_level_m=0.0, bank_level_m=0.8,
            approach=RACE, crest_level_m=crest,
        )  # fmt: skip
    except BadInput:
        assert not MANY.suits[row, 14]
        return
    head = MANY.head_m[row, 14]
    seen = np.isfinite(head)
    assert MANY.freeboard_m[row, 14, seen] == pytest.approx(choice.freeboard_m[seen], abs=3e-3)
    assert MANY.froude[row, 14, seen] == pytest.approx(choice.froude[seen], rel=0.02)
    assert MANY.submergence_weedy[row, 14, seen] == pytest.approx(
        choice.submergence_weedy[seen], rel=0.02, abs=1e-6
    )
    # the energy method may only ask for a lower limit than the rule of thumb
    assert np.all(MANY.modular_limit[row, 14, seen] >= choice.modular_limit[seen] - 5e-3)
    rated = rate(device, head[seen])
    known = np.isfinite(rated.uncertainty_pct) & (rated.parts["range"] == 0)
    bare = np.hypot(rated.parts["device"], rated.parts["head"])
    assert MANY.uncertainty_pct[row, 14, seen][known] == pytest.approx(
        bare[known], rel=0.03, abs=1.2
    )


def test_the_crest_that_is_needed_is_where_the_needs_meet_it() -> None:
    for row, crest in enumerate(MANY.crest_weedy_m):
        if not 0.0 < crest < CRESTS[-1] or isinstance(MAKERS[row].build(0.1), ByTotalHead):
            continue
        device = MAKERS[row].build(float(crest))
        head = discharge_to_head(device, FLOWS)
        need = TAIL + PLACE.weed_margin_m - device.modular_limit(head) * head
        assert np.nanmax(need) == pytest.approx(crest, abs=2e-3)


def test_a_structure_that_cannot_be_built_keeps_nobody_from_an_answer() -> None:
    def refuse(_: float) -> Device:
        raise BadInput("b", 1, "no", "Try another.")

    plain = Maker(lambda _: DEVICES["parshall"].build({"size": "1ft"}), False)
    many = judge_many([Maker(refuse, True), plain], PLACE, CRESTS)
    assert many.problems[0] is not None
    assert many.problems[1] is None
    assert np.isnan(many.crest_weedy_m[0])
    assert many.crest_weedy_m[1] > 0


def test_a_head_is_found_back_from_its_total_head() -> None:
    section = Rectangle(0.8)
    for p in (0.0, 0.1, 0.4):
        for h in (0.05, 0.2, 0.4):
            flow = 0.3 * h**1.5
            total = h + (flow / float(section.area(np.asarray(h + p)))) ** 2 / (2 * G)
            found = gauged_head(section, flow, total, p)
            if float(froude(section, h + p, flow)) < 1.0:
                by_root = brentq(
                    lambda y, q=flow, p=p, t=total: y + (q / (0.8 * (y + p))) ** 2 / (2 * G) - t,
                    0.7 * h, total, xtol=1e-14,
                )  # fmt: skip
                assert found == pytest.approx(by_root, rel=1e-9)


def test_no_head_where_the_throat_does_not_contract() -> None:
    # a throat wider than the race at the gauge: critical flow is not forced (derived)
    device = DEVICES["long_throat_rect"].build({"b": 0.8, "L": 1.0, "B": 0.8, "p": 0.0})
    assert isinstance(device, ByTotalHead)
    total = device.total_head_m(FLOWS)
    assert np.isnan(gauged_head(Rectangle(0.5), FLOWS, total, 0.0)).all()
    # hardly narrower than the race: where a head is found, the rating gives the flow back
    heads = gauged_head(Rectangle(0.8), FLOWS, total, 0.0)
    back = device.free_flow(heads[np.isfinite(heads)]).discharge_m3s
    known = np.isfinite(back)
    assert back[known] == pytest.approx(FLOWS[np.isfinite(heads)][known], rel=1e-8)


@pytest.mark.parametrize("key", ["long_throat_rect", "long_throat_trap", "long_throat_u"])
def test_total_head_is_the_inverse_of_the_rating(key: str) -> None:
    device = DEVICES[key].build(DEVICES[key].example)
    heads = np.linspace(device.head_min_m, device.head_max_m, 7)
    free = device.free_flow(heads)
    assert isinstance(device, ByTotalHead)
    assert device.total_head_m(free.discharge_m3s) == pytest.approx(
        free.detail["total_head_m"], rel=1e-9
    )


def test_every_family_with_sizes_or_steps_is_tried() -> None:
    tried = {t.family.key for t in trials(RACE, 0.12)}
    own = {key for key in DEVICES if key.startswith("user_")}  # ratings that people bring
    assert tried == set(DEVICES) - own
    assert {t.dims.get("size") for t in trials(RACE, 0.12) if t.family.key == "parshall"} == set(
        DEVICES["parshall"].sizes
    )
