/** How far a clock is off, in words; a day and more is no drift but a wrong clock (common practice). */
import { counted } from "../../shared/counted.js";

const DAY_S = 86400;

export function clockWords(seconds) {
  if (seconds === 0) return "right";
  const size = Math.abs(seconds);
  const side = seconds > 0 ? "fast" : "slow";
  if (size >= DAY_S)
    return `wrong: ${duration(size)} ${seconds > 0 ? "ahead" : "behind"}, a wrong date or year. Set it`;
  return `${duration(size)} ${side}`;
}

/** 95 s is "1 min 35 s": the two largest units that are not nought. */
export function duration(seconds) {
  const units = [
    ["year", 365.25 * DAY_S],
    ["day", DAY_S],
    ["h", 3600],
    ["min", 60],
    ["s", 1],
  ];
  let left = Math.round(seconds);
  const said = [];
  for (const [name, size] of units) {
    const count = Math.floor(left / size);
    left -= count * size;
    if (count) said.push(counted(count, name, size < DAY_S ? name : undefined));
  }
  return said.slice(0, 2).join(" ") || "0 s";
}
