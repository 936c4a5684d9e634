/** The stop-or-go word of a stop, worked out as the server does, and the stops so far. */
import { BadInput } from "../../shared/bad_input.js";
import {
  ballastToHold,
  concreteToHold,
  concreteVolume,
  cornerLevels,
  cornerStop,
  liftPressure,
  practiceNotes,
  sinceSet,
  uplift,
  weightedCreep,
  wetConcreteUplift,
  widthStop,
} from "../sums/install.js";

/** The server's words for the same stop: {word, reasons, and what each section found}. */
export function checkStop(body, earlier, stop) {
  const found = {
    reasons: [],
    corners: cornerLevels(body),
    corner: null,
    width: null,
    water: null,
    wet: null,
    hold_m3: null,
    ballast_kg: null,
    lift: null,
    concrete: null,
    creep: null,
    protection: null,
    practice: [],
  };
  const say = (word, reason) => found.reasons.push([word, reason]);
  const bodies = [...earlier, body];
  if (Object.keys(found.corners).length) {
    const rows = sinceSet({ bodies, part: "corners" });
    found.corner = {
      ...cornerStop({ corners_m: rows, tolerance_m: body.corner_tolerance_m }),
      rows: rows.length,
    };
    say(found.corner.word, found.corner.reason);
  }
  if (Object.values(body.widths ?? {}).some((width_m) => width_m != null)) {
    const rows = sinceSet({ bodies, part: "widths" });
    found.width = {
      ...widthStop({ widths_m: rows, limit_m: body.width_limit_m }),
      rows: rows.length,
    };
    say(found.width.word, found.width.reason);
  }
  for (const { key, text } of stop.asks) if (body.seen[key] === "no") say("stop", `${text}: no`);
  try {
    sums(body, found, say);
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    say("unknown", error.message);
  }
  const words = new Set(found.reasons.map(([word]) => word));
  return { ...found, word: ["stop", "unknown", "go"].find((word) => words.has(word)) ?? "noted" };
}

function sums(body, found, say) {
  const { box, lift_m, base_height_m, concrete, creep, tail } = body;
  if (box) {
    const { water_depth_m, concrete_depth_m, ...plan } = box;
    if (water_depth_m) {
      found.water = uplift({ ...plan, depth_m: water_depth_m });
      found.hold_m3 = concreteToHold({ ...plan, depth_m: water_depth_m });
      found.ballast_kg = ballastToHold({ ...plan, depth_m: water_depth_m });
    }
    if (concrete_depth_m) found.wet = wetConcreteUplift({ ...plan, depth_m: concrete_depth_m });
    for (const [what, one] of [
      ["water", found.water],
      ["wet concrete", found.wet],
    ]) {
      if (one)
        say(
          one.holds ? "go" : "stop",
          `box in ${what}: ${one.word}, factor ${one.factor.toFixed(2)}`,
        );
    }
  }
  if (lift_m) found.lift = liftPressure({ lift_m });
  if (concrete) found.concrete = concreteVolume(concrete);
  if (creep) {
    found.creep = weightedCreep(creep);
    say(
      found.creep.holds === null ? "unknown" : found.creep.holds ? "go" : "stop",
      `seepage path: ${found.creep.word}`,
    );
  }
  found.practice = practiceNotes({
    tail_fall_m: tail?.fall_m,
    lift_fraction: lift_m && base_height_m ? lift_m / base_height_m : null,
  });
  if (tail?.protection_m != null && tail.water_depth_m != null) {
    const wanted = Math.max(4 * tail.water_depth_m, 1.5);
    const near = tail.protection_m >= wanted;
    found.protection = {
      near,
      words: `${near ? "As long as" : "Shorter than"} the ${wanted.toFixed(1)} m often asked for.`,
    };
  }
}

/** The standing stops of a structure, oldest first: the office's and this phone's. */
export function stopsSoFar(survey, records, structureId, stand) {
  const office = survey?.stops ?? [];
  const known = new Set(office.map(({ id }) => id));
  const here = records
    .filter(
      ({ id, entry, state }) =>
        entry.kind === "install_stop" &&
        entry.structure_id === structureId &&
        !known.has(id) &&
        state !== "replaced",
    )
    .map(({ id, entry, state }) => ({
      id,
      observed_at: entry.observed_at,
      body: entry.body,
      state,
    }));
  const all = [...office.map((one) => ({ ...one, state: "stored" })), ...here];
  return all
    .filter(({ id }) => stand.stands(id))
    .sort((a, b) => (a.observed_at < b.observed_at ? -1 : 1));
}
