"""A refused record of every kind comes back in its own form, the fault beside its box.

Each record is refused by the real server for one field; it is put right on the phone without
signal, and the office stores what was put right in the place of what it refused.
"""

import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import Server, drafted_as_touched, notice_touches, until_page, watch
from tests.browser.test_offline import ready, records, wait_states

HELD = """async ({ kind, structure, body, bytes }) => {
  const { openFieldDatabase } = await import("/static/field/keep/database.js");
  const { makeOutbox } = await import("/static/field/keep/outbox.js");
  const { makePhotos } = await import("/static/field/keep/photos.js");
  const { uuid7 } = await import("/static/field/base/uuid7.js");
  const { sha256Of } = await import("/static/field/shell/photos_box.js");
  const db = await openFieldDatabase();
  const pack = await db.get("kept", "pack");
  const now = new Date(Date.now() - 60000).toISOString();
  const id = uuid7();
  if (bytes) {
    const content = Uint8Array.from(atob(bytes), (letter) => letter.charCodeAt(0)).buffer;
    body.sha256 = await sha256Of(content);
    const row = { sha256: body.sha256, bytes: content, by: pack.person.id, entry_id: id,
      taken_at: now, sent_epoch: null, problem: null, held: true };
    if (kind === "logger_file") Object.assign(row, { kind, name: body.name });
    await makePhotos(openFieldDatabase).keep(row);
  }
  const text = JSON.stringify(body).replaceAll("$NOW", now);
  await makeOutbox(openFieldDatabase).hold({
    id, kind, site_id: 1, structure_id: structure, visit_id: null, observed_at: now,
    utc_offset_min: pack.sites.find((site) => site.id === 1).utc_offset_min, by: pack.person.id,
    saved_at: now, corrects: null, reason: null, body: JSON.parse(text),
  });
  return id;
}"""


def book_crest_anew(page: Page) -> None:
    page.get_by_role("button", name="Change IS crest UL").click()
    page.locator("[name=reading]").fill("1.345")
    page.get_by_role("button", name="Write it anew").click()


@dataclass
class Case:
    """A body, the value that breaks it, how its box is called, what else is kept, the mending."""

    name: str
    kind: str
    body: dict[str, Any]
    box: str  # as the notice names it
    kept: dict[str, str]  # CSS of a box: its value
    mend: Callable[[Page], None]
    structure: int | None = 1
    bytes: str = ""
    beside: str = ""  # CSS of the box that is marked, where the notice's name is not enough
    same_id: bool = False
    after: dict[str, Any] = field(default_factory=dict)


def fill(css: str, text: str) -> Callable[[Page], None]:
    return lambda page: page.locator(css).first.fill(text)


TAIL = {"state": "not_seen", "staff_m": None, "text": None}
HEADS = [
    {"at": "$NOW", "staff_m": 0.251, "text": "251"},
    {"at": "$NOW", "staff_m": 0.25, "text": "250"},
]
LONG = "x" * 4001


def a_gauging(observed: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {
        "observed": observed,
        "started_at": "$NOW",
        "ended_at": "$NOW",
        "heads": HEADS,
        "head_unit": "mm",
        "tailwater": TAIL,
        "control": ["clear"],
        "observers": ["Tamsin"],
        "instrument": {"kind": "bucket", "serial": "", "last_calibration": ""},
        "tolerance_pct": None,
        "note": "kept",
        "time_reason": None,
        "cautions_read": True,
        **more,
    }


BAD = "9" * 50  # a figure of more digits than the office reads
PIXEL = (
    "/9j/4AAQSkZJRgABAQAAAQABAAD/2wBDAAEBAQEBAQEBAQEBAQEBAQEBAQEBAQEBAQEBAQEBAQEBAQEBAQEBAQEBAQEB"
    "AQEBAQEBAQEBAQEBAQEBAQEBAQH/wAALCAABAAEBAREA/8QAHwAAAQUBAQEBAQEAAAAAAAAAAAECAwQFBgcICQoL/8QA"
    "tRAAAgEDAwIEAwUFBAQAAAF9AQIDAAQRBRIhMUEGE1FhByJxFDKBkaEII0KxwRVS0fAkM2JyggkKFhcYGRolJicoKSo0"
    "NTY3ODk6Q0RFRkdISUpTVFVWV1hZWmNkZWZnaGlqc3R1dnd4eXqDhIWGh4iJipKTlJWWl5iZmqKjpKWmp6ipqrKztLW2"
    "t7i5usLDxMXGx8jJytLT1NXW19jZ2uHi4+Tl5ufo6erx8vP09fb3+Pn6/9oACAEBAAA/APQ//9k="
)

CASES = [
    Case(
        "reading",
        "head_reading",
        {
            "occasion": "as_found",
            "staff_m": [0.251, 99.0],
            "read_at": ["$NOW", "$NOW"],
            "entered": {"unit": "m", "text": ["0.251", "99"]},
            "tailwater": TAIL,
            "gate_opened_at": None,
            "conditions": ["weed"],
            "sensor_head_m": 0.25,
            "note": "kept",
            "time_reason": None,
        },
        "Staff reading 2",
        {"[name=note]": "kept", "[name=sensor_text]": "0.25"},
        fill("[aria-label='Staff reading 2']", "0.252"),
        beside="[aria-label='Staff reading 2']",
        after={"staff_m": [0.251, 0.252]},
    ),
    Case(
        "visit",
        "visit",
        {
            "purpose": "Routine",
            "observers": ["Tamsin"],
            "started_at": "$NOW",
            "conditions": ["weed"],
            "note": LONG,
            "cautions_read": True,
        },
        "Note",
        {"[name=purpose]": "Routine", "[name=observers]": "Tamsin"},
        fill("[name=note]", "short"),
        structure=None,
        same_id=True,
        after={"note": "short"},
    ),
    Case(
        "gauging, heads",
        "check_gauging",
        a_gauging(
            {
                "method": "volumetric",
                "fills": [{"volume_l": "10", "time_s": "5.1"}] * 5,
                "volume_uncertainty_pct": "1",
                "timer_uncertainty_s": "0.1",
            },
            heads=[HEADS[0], {"at": "$NOW", "staff_m": 99.0, "text": "99000"}],
        ),
        "Staff at the end",
        {"[name=note]": "kept"},
        fill("[name=head_1]", "250"),
    ),
    Case(
        "gauging, volumetric",
        "check_gauging",
        a_gauging(
            {
                "method": "volumetric",
                "volume_uncertainty_pct": "1",
                "timer_uncertainty_s": "0.1",
                "fills": [{"volume_l": "10", "time_s": "5.1"}] * 4
                + [{"volume_l": "10", "time_s": BAD}],
            }
        ),
        "Time",
        {"[name=volume_l] >> nth=0": "10"},
        lambda page: page.locator("[name=time_s]").nth(4).fill("5.2"),
    ),
    Case(
        "gauging, velocity",
        "check_gauging",
        a_gauging(
            {
                "method": "velocity_area",
                "section": "mid",
                "edges": ["bank", "bank"],
                "meter_pieces": [],
                "components": None,
                "verticals": [{"distance_m": "0", "depth_m": "0", "points": {}}]
                + [
                    {
                        "distance_m": str(i / 10),
                        "depth_m": BAD if i == 3 else "0.3",
                        "points": {"v06": {"velocity_ms": "0.4", "counts": None, "seconds": None}},
                    }
                    for i in range(1, 6)
                ]
                + [{"distance_m": "0.6", "depth_m": "0", "points": {}}],
            }
        ),
        "Depth",
        {"[name=distance_m-2]": "0.3"},
        fill("[name=depth_m-2]", "0.3"),
        beside="[name=depth_m-2]",
    ),
    Case(
        "gauging, gulp",
        "check_gauging",
        a_gauging(
            {
                "method": "dilution_gulp",
                "mass_g": BAD,
                "volume_l": None,
                "concentration_g_l": None,
                "time_s": [0, 5, 10, 15, 20, 25],
                "conductivity_us_cm": [80, 80, 120, 100, 85, 80],
                "second_us_cm": None,
                "trace_text": "0 80\n5 80\n10 120\n15 100\n20 85\n25 80",
                "trace_from": "typed",
                "file_name": None,
                "background_us_cm": "80",
                "background_end_us_cm": None,
                "calibration": [],
                "factor_mg_l_per_us_cm": None,
                "factor_uncertainty_pct": None,
                "dose_uncertainty_pct": None,
            }
        ),
        "Salt, dry",
        {"[name=trace_text]": "0 80\n5 80\n10 120\n15 100\n20 85\n25 80"},
        fill("[name=mass_g]", "250"),
    ),
    Case(
        "gauging, constant",
        "check_gauging",
        a_gauging(
            {
                "method": "dilution_constant",
                "injection_ml_s": "12",
                "injected": "20000",
                "background": "0",
                "plateau": ["12.1", BAD, "12.2"],
                "unit": "mg/L",
                "injection_uncertainty_pct": None,
                "concentration_uncertainty_pct": None,
            }
        ),
        "Plateau 2, same unit",
        {"[name=injected]": "20000"},
        lambda page: page.locator("[name=plateau]").nth(1).fill("12.0"),
    ),
    Case(
        "gauging, float",
        "check_gauging",
        a_gauging(
            {
                "method": "float",
                "distance_m": "10",
                "times_s": ["20", "21", "22"],
                "width_m": BAD,
                "depths_m": ["0.3", "0.35"],
                "factor": None,
                "uncertainty_pct": None,
            }
        ),
        "Width of the water",
        {"[name=distance_m]": "10"},
        fill("[name=width_m]", "1.2"),
    ),
    Case(
        "gauging, portable",
        "check_gauging",
        a_gauging(
            {
                "method": "portable",
                "device": None,
                "heads_mm": [],
                "head_uncertainty_mm": None,
                "free_seen": False,
                "described": "own plate",
                "discharge_l_s": BAD,
                "uncertainty_pct": "5",
            }
        ),
        "Discharge by its table",
        {"[name=described]": "own plate"},
        fill("[name=discharge_l_s]", "8"),
    ),
    Case(
        "level run",
        "level_run",
        {
            "unit": "m",
            "start_rl": 100.0,
            "close_rl": None,
            "rows": [
                {
                    "point": "BM1",
                    "role": "benchmark",
                    "bs": 1.2,
                    "is": None,
                    "fs": None,
                    "struck": [],
                },
                {
                    "point": "crest UL",
                    "role": "corner_ul",
                    "bs": None,
                    "is": 99.0,
                    "fs": None,
                    "struck": [],
                },
                {
                    "point": "BM1",
                    "role": "benchmark",
                    "bs": None,
                    "is": None,
                    "fs": 1.2,
                    "struck": [],
                },
            ],
            "rule": {"name": "setups", "distance_km": None, "limit_mm": None},
            "adjusted": False,
            "staff_mark_m": None,
            "tail_mark_m": None,
            "corner_tolerance_m": 0.002,
            "low_head_m": 0.1,
            "exponent": 1.5,
            "instrument": "level 3",
            "peg_test": None,
            "set_zero": None,
            "note": "kept",
        },
        "crest UL",
        {"[name=instrument]": "level 3", "[name=start_text]": "100"},
        book_crest_anew,
        beside="#book",
    ),
    Case(
        "benchmark",
        "benchmark",
        {
            "name": "BM7",
            "mark": "bolt",
            "stability": "firm",
            "rl_m": 99999.0,
            "datum": "assumed",
            "place": "on the wall",
            "note": "",
        },
        "Level, m, if known",
        {"#mark-form [name=name]": "BM7", "[name=datum]": "assumed"},
        fill("[name=rl_text]", "100.5"),
        structure=None,
    ),
    Case(
        "install stop",
        "install_stop",
        {
            "stop": "S2",
            "moment": "",
            "corners": {
                "reference": "BM1",
                "reference_rl_m": 100.0,
                "backsight_m": 1.2,
                "readings_m": {"corner_ul": 99.0, "corner_ur": 1.301},
            },
            "corner_tolerance_m": 0.002,
            "widths": {"top_m": 0.305, "middle_m": None, "bottom_m": None},
            "width_limit_m": 0.001,
            "seen": {},
            "lift_m": None,
            "base_height_m": None,
            "box": None,
            "concrete": None,
            "creep": None,
            "tail": None,
            "delivered": "",
            "weather": "dry",
            "went_on": "",
            "note": "kept",
        },
        "Upstream left",
        {"[name=corner_ur]": "1.301", "[name=weather]": "dry"},
        fill("[name=corner_ul]", "1.3"),
    ),
    Case(
        "dimension check",
        "dimension_check",
        {
            "dimensions": [
                {"key": "throat_width", "label": "Throat width", "measured_m": [2e6], "note": ""}
            ],
            "instrument": "tape",
            "note": "",
        },
        "Throat width, mm",
        {"[name=instrument]": "tape"},
        fill("[name=throat_width]", "304.8"),
    ),
    Case(
        "opening",
        "opening",
        {
            "gate": [{"at": "$NOW", "opening": "3 turns"}],
            "heads": [{"at": "$NOW", "staff_m": 0.25, "tail_staff_m": None}],
            "seeps": {"toe": "none"},
            "seep_note": "dry",
            "sensor": {"at": "$NOW", "staff_m": 0.25, "before_m": 99.0, "after_m": 0.25},
            "clock": None,
            "gauging_ids": [],
            "fit_from": None,
            "fit_words": "",
            "note": "kept",
        },
        "Logger before, mm",
        {"[name=seep_note]": "dry", "[name=sensor_staff]": "250"},
        fill("[name=sensor_before]", "251"),
    ),
    Case(
        "photo",
        "photo",
        {
            "sha256": "",
            "caption": "the tail",
            "place": "opening",
            "bearing_deg": 400.0,
            "of": None,
            "width_px": 1,
            "height_px": 1,
            "bytes": 100,
        },
        "Looking towards, degrees from north",
        {"[name=caption]": "the tail"},
        fill("[name=bearing]", "40"),
        bytes=PIXEL,
    ),
    Case(
        "logger file",
        "logger_file",
        {
            "sha256": "",
            "name": "well.csv",
            "size": 12,
            "serial": "K1",
            "downloaded_at": "$NOW",
            "clock_fast_s": 1e9,
            "note": "kept",
        },
        "Logger minus true time, seconds",
        {"[name=serial]": "K1", "[name=note]": "kept"},
        fill("[name=clock_fast]", "35"),
        bytes="MjAyNi0xMS0yNQ==",
    ),
    Case(
        "plan",
        "plan",
        {
            "inputs": {
                "name": "Again",
                "q_min_l_s": "20",
                "q_mid_l_s": "60",
                "q_max_l_s": "160",
                "note": LONG,
                "weed_margin_mm": "20",
                "crest_rl_m": "",
                "bank_rl_m": "101",
            }
        },
        "Note",
        {"[name=q_mid_l_s]": "60", "[name=bank_rl_m]": "101"},
        fill("[name=note]", "short"),
        structure=None,
    ),
]


@pytest.fixture
def phone(new_phone: Callable[..., BrowserContext], server: Server) -> Iterator[Page]:
    page = new_phone().new_page()
    complaints = watch(page)
    ready(page, server)
    page.set_default_timeout(6000)
    yield page
    assert complaints == []


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_refused_record_is_put_right_in_its_form(
    phone: Page, server: Server, tmp_path: Path, case: Case
) -> None:
    refused_id = phone.evaluate(
        HELD,
        {
            "kind": case.kind,
            "structure": case.structure,
            "body": copy.deepcopy(case.body),
            "bytes": case.bytes,
        },
    )
    phone.goto(f"{server.url}/field/outbox")
    wait_states(phone, ["refused"])
    phone.reload()
    expect(phone.get_by_text("Not accepted.", exact=False)).to_be_visible()
    phone.context.set_offline(True)
    way = phone.get_by_role("link", name="Put it right").get_attribute("href")
    phone.goto(f"{server.url}{way}")
    notice = phone.locator("#refused")
    expect(notice).to_contain_text(f"Not accepted: {case.box}")
    expect(phone.locator("#fault")).to_be_visible()
    if case.beside:
        assert phone.evaluate(
            """(css) => {
              const box = document.querySelector(css);
              const fault = document.getElementById("fault");
              const around = box.closest("label, .head, section, fieldset").parentElement;
              return box.contains(fault) || around.contains(fault);
            }""",
            case.beside,
        )
    for css, value in case.kept.items():
        expect(phone.locator(css).first).to_have_value(value)
    phone.get_by_role("button", name="Go to the box").click()
    until_page(phone, "document.activeElement?.matches('input, select, textarea, button')")
    phone.screenshot(
        path=str(tmp_path / f"fix-{case.name.replace(', ', '-').replace(' ', '-')}.png")
    )
    # Given up, nothing is lost: the refused record stays, and the half-filled mending is kept.
    notice_touches(phone)
    case.mend(phone)
    drafted_as_touched(phone)
    phone.reload()
    expect(phone.locator("#refused")).to_be_visible()
    expect(phone.get_by_text("is back", exact=False)).to_be_visible()
    assert [record["state"] for record in records(phone)] == ["refused"]
    save = "form:visible button.main:visible, #mark-save, #dimensions form button:not([type])"
    phone.locator(save).locator("visible=true").last.click()
    if case.kind == "visit":
        phone.wait_for_url("**/field/visit?visit=*")
    expect(phone.get_by_text("on this phone", exact=False).first).to_be_visible()
    wanted = ["waiting"] if case.same_id else ["replaced", "waiting"]
    wait_states(phone, wanted)
    phone.context.set_offline(False)
    phone.goto(f"{server.url}/field/outbox")
    phone.get_by_role("button", name="Send now").click()
    wait_states(phone, ["stored"] if case.same_id else ["replaced", "stored"])
    held = records(phone)
    new = next(record for record in held if record["state"] == "stored")
    if case.same_id:
        assert new["id"] == refused_id
        assert new["refused_before"][0]["entry"]["body"] != new["entry"]["body"]
    else:
        old = next(record for record in held if record["state"] == "replaced")
        assert (old["id"], old["replaced_by"]) == (refused_id, new["id"])
    for key, value in case.after.items():
        assert new["entry"]["body"][key] == value
