"""5,000 combinations of structure and crest height against a scipy brentq loop over 50 of them.

The peer finds, for each of 50 combinations spread over all, the head at each of the nine flows with
`scipy.optimize.brentq` on the same rating, a head at a time. The arrays also judge submergence,
freeboard, approach and uncertainty of all.
"""

import time

import numpy as np
from scipy.optimize import brentq

from app.hydraulics.channel.uniform import normal_depth
from app.hydraulics.families.workshop.sizes import trials
from app.hydraulics.install.many import Place, judge_many
from app.hydraulics.structure.device import Device
from app.services.plans.choosing.answer import CRESTS, choose, maker
from app.services.plans.choosing.question import question

COMBINATIONS = 5_000
SAMPLE = 50
GOAL = 0.2
FORM = {"min": "0.004", "max": "0.12", "race": "trap:b=0.8,m=1,slope=0.0005,n=0.03", "bank": "0.6"}


def head_of(device: Device, flow: float) -> float:
    def gap(head: float) -> float:
        return float(np.nan_to_num(device.free_flow(np.array([head])).discharge_m3s[0])) - flow

    try:
        return float(brentq(gap, 1e-4, 3.0 * device.head_max_m, xtol=1e-9))
    except ValueError:
        return float("nan")


def run() -> list[str]:
    asked = question(FORM)
    flows = asked.flows_m3s
    tail = normal_depth(asked.section, flows, 0.03, 0.0005)
    makers = [maker(asked, t) for t in trials(asked.section, 0.12) if not t.unsuited]
    place = Place(asked.section, flows, tail, asked.bank_m)
    crests = np.linspace(0.0, asked.bank_m, CRESTS)
    mine = np.inf
    for _ in range(5):
        started = time.perf_counter()
        many = judge_many(makers, place, crests)
        mine = min(mine, time.perf_counter() - started)
    count = len(makers) * CRESTS
    picked = np.linspace(0, count - 1, SAMPLE).round().astype(int)
    started = time.perf_counter()
    heads = []
    for at in picked:
        device = makers[at // CRESTS].build(float(crests[at % CRESTS]))
        heads.append([head_of(device, float(q)) for q in flows])
    peer = time.perf_counter() - started
    found = many.head_m.reshape(count, -1)[picked]
    off = np.abs(found / np.array(heads) - 1.0)
    started = time.perf_counter()
    choose(asked)
    whole = time.perf_counter() - started
    per = mine * COMBINATIONS / count
    return [
        f"{COMBINATIONS} combinations judged: {per / peer:.3f} x a scipy brentq loop over {SAMPLE} "
        f"of them (goal < {GOAL}), heads agree within {np.nanmax(off):.1e}",
        f"the whole answer, each of {len(makers)} structures worked out: {whole / peer:.2f} x the "
        "same",
    ]


if __name__ == "__main__":
    print("\n".join(run()))
