"""The phone's table against the server's own rating."""

import json

import numpy as np
import pytest

from app.hydraulics.families.registry import DEVICES, build
from app.hydraulics.rating.curve import NODES, interpolate, phone_table
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Device
from tests.hydraulics.registry import devices, name

ALL = pytest.mark.parametrize("device", devices(), ids=name)
TOLERANCE = 5e-4  # 0.05 % over the range
BEYOND = 5e-3  # above it, where 9 % and more are added: 0.5 %


@ALL
def test_phone_reads_what_the_server_rates(device: Device) -> None:
    table = phone_table(device)
    nodes = np.array(table["heads_m"])
    heads = np.concatenate((np.geomspace(nodes[0], nodes[-1], 3001), (nodes[1:] + nodes[:-1]) / 2))
    heads = heads[(heads >= nodes[0]) & (heads <= nodes[-1])]
    for at in device.breaks_m:  # a step is a step for both, to within a billionth of the head
        heads = heads[np.abs(heads / at - 1.0) > 1e-8]
    server = rate(device, heads).discharge_m3s
    inside = heads <= device.head_max_m
    read = interpolate(table, heads)
    np.testing.assert_allclose(read[inside], server[inside], rtol=TOLERANCE)
    np.testing.assert_allclose(read[~inside], server[~inside], rtol=BEYOND)
    assert np.isnan(interpolate(table, [nodes[0] * 0.9, nodes[-1] * 1.1, np.nan])).all()


@ALL
def test_phone_reads_drowned_flow_as_the_server(device: Device) -> None:
    table = phone_table(device)
    heads = np.geomspace(1.01 * table["heads_m"][0], 0.99 * table["head_max_m"], 23)
    ratios = np.linspace(0.0, 1.0, 331)[:, None]
    server = rate(device, heads, ratios * heads, 1e-9).discharge_m3s
    phone = interpolate(table, np.broadcast_to(heads, server.shape), ratios * heads)
    both = np.isfinite(server) & np.isfinite(phone)
    np.testing.assert_allclose(phone[both], server[both], rtol=TOLERANCE)
    assert np.count_nonzero(np.isfinite(server) != np.isfinite(phone)) <= 0.005 * server.size


@ALL
def test_table_is_json_of_the_agreed_shape(device: Device) -> None:
    table = phone_table(device)
    again = json.loads(json.dumps(table, allow_nan=False))
    assert again == table
    count = len(table["heads_m"])
    inside = sum(head <= device.head_max_m * (1 + 1e-9) for head in table["heads_m"])
    # two more at each break, and at each step of the uncertainty (a few at most)
    assert NODES <= inside <= NODES + 2 * len(device.breaks_m) + 8
    assert count - inside <= 60
    assert table["head_limit_m"] == pytest.approx(1.5 * device.head_max_m)
    for key in ("discharge_m3s", "device_pct", "exponent", "modular_limit"):
        assert len(table[key]) == count
    assert np.all(np.diff(table["heads_m"]) > 0)
    rises = np.diff(table["discharge_m3s"])
    apart = np.diff(np.log(table["heads_m"])) > 1e-8  # the sides of a step may round to one flow
    assert np.all(rises[apart] > (-1e-12 if device.breaks_m else 0))
    assert np.all(rises >= -1e-12)
    assert table["heads_m"][0] <= max(0.0085, 1.06 * device.head_floor_m, device.head_min_m)
    assert (table["drowned"] is not None) == device.correction
    if table["drowned"]:
        drowned = table["drowned"]
        assert len(drowned["submergence"]) == 64
        assert len(drowned["uncertainty_pct"]) == 64
        assert all(len(row) == 64 for row in drowned["factor"])
        assert len(drowned["factor"]) == len(drowned["heads_m"])
        assert np.all(np.diff(drowned["submergence"]) > 0)
    assert phone_table(device)["hash"] == table["hash"]


def test_hash_follows_the_rating() -> None:
    one, other = (phone_table(build("parshall", {"size": s}))["hash"] for s in ("1ft", "2ft"))
    assert one != other


@pytest.mark.parametrize("key", DEVICES)
def test_device_share_of_the_table_is_the_servers(key: str) -> None:
    device = DEVICES[key].build(DEVICES[key].example)
    table = phone_table(device)
    rated = rate(device, table["heads_m"])
    share = np.hypot(rated.parts["device"], rated.parts["dimensions"])
    np.testing.assert_allclose(table["device_pct"], share, rtol=1e-4)
    slope = np.array(table["exponent"]) / np.array(table["heads_m"])
    np.testing.assert_allclose(rated.parts["head"], 0.3 * slope, rtol=1e-4)
