/** A phone's table of the power law Q = 0.69 h^1.522, about a 1 ft Parshall flume. */
export function powerTable({ head_max_m = 0.6, modular_limit = 0.62, ...changes } = {}) {
  const heads_m = Array.from({ length: 64 }, (_, i) => 0.01 * (head_max_m / 0.01) ** (i / 63));
  return {
    heads_m,
    discharge_m3s: heads_m.map((h) => 0.69 * h ** 1.522),
    device_pct: heads_m.map(() => 3),
    exponent: heads_m.map(() => 1.522),
    modular_limit: heads_m.map(() => modular_limit),
    drowned: null,
    head_min_m: 0.03,
    head_max_m,
    cease_to_flow_m: 0,
    can_drown: true,
    warn_submergence: 0.9,
    max_submergence: 0.95,
    hash: "h",
    ...changes,
  };
}
