// The offset from UTC that a new site is proposed: standard time of the computer's own zone.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { test } from "node:test";
import { offsetText } from "../../../static/office/site_offset.js";

const MODULE = new URL("../../../static/office/site_offset.js", import.meta.url).href;
const SCRIPT = `import { offsetText, standardOffsetMin } from "${MODULE}"; console.log(offsetText(standardOffsetMin(2026)));`;

// offsets of standard time in the IANA time zone database
const ZONES = {
  "Pacific/Auckland": "+12:00",
  "Europe/Paris": "+01:00",
  "America/St_Johns": "-03:30",
  "America/Phoenix": "-07:00",
  "Asia/Kathmandu": "+05:45",
  "Pacific/Chatham": "+12:45",
  "America/Santiago": "-04:00",
  UTC: "+00:00",
};

for (const [zone, offset] of Object.entries(ZONES))
  test(`${zone} is ${offset}, summer or winter`, () => {
    const said = execFileSync("node", ["--input-type=module", "-e", SCRIPT], {
      env: { ...process.env, TZ: zone },
    });
    assert.equal(String(said).trim(), offset);
  });

test("an offset is written as the box takes it", () => {
  assert.deepEqual([0, 90, -210, 765].map(offsetText), ["+00:00", "+01:30", "-03:30", "+12:45"]);
});
