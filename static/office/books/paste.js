// What was copied from a spreadsheet or a text, as cells: by tabs, else semicolons, else commas.
const ALONE = /^\s*[+-]?\d+,\d+\s*$/;
const BOTH = /\d[\sT]+\d{1,2}[:.h]\d{2}/;
const TITLES = [
  ["day", /^(day|date|date[ _/]?(and[ _])?time|datetime)$/],
  ["time", /^(time|clock|hour)$/],
  ["staff", /^(staff|gauge|reading|stage|level)([ _](reading|height))?$/],
  ["tail", /^(tail|tail[ _]?water|tail[ _]staff|downstream)$/],
  ["discharge", /^(discharge|flow|q)$/],
  ["uncertainty", /^(uncertainty|u|±)$/],
  ["method", /^(method|how)$/],
  ["observer", /^(read[ _]by|gauged[ _]by|observer|reader|gauger|who|name)$/],
  ["page", /^(page|source|sheet)$/],
  ["answer", /^(sure|answer)\??$/],
  ["remark", /^(remarks?|notes?|comments?)$/],
];
const UNIT = /[ _,([]*(\b(mm|cm|m|l\/s|m3\/s)|%)[)\]]*\s*$/;

/** Split a line at its marks; a cell in quotes may hold them. */
function cellsOf(line, mark) {
  if (!line.includes('"')) return line.split(mark);
  const cells = [];
  let cell = "";
  let quoted = false;
  for (let i = 0; i < line.length; i += 1) {
    if (line[i] === '"' && quoted && line[i + 1] === '"') {
      cell += '"';
      i += 1;
    } else if (line[i] === '"') quoted = !quoted;
    else if (line[i] === mark && !quoted) {
      cells.push(cell);
      cell = "";
    } else cell += line[i];
  }
  cells.push(cell);
  return cells;
}

function markOf(lines) {
  for (const mark of ["\t", ";"]) if (lines.some((line) => line.includes(mark))) return mark;
  if (lines.every((line) => ALONE.test(line))) return "";
  return lines.some((line) => line.includes(",")) ? "," : "";
}

/** Return the columns that a line of titles names, null where it is none. */
function titlesOf(cells) {
  const found = cells.map((cell) => {
    const title = cell.trim().toLowerCase().replace(UNIT, "");
    return TITLES.find(([, pattern]) => pattern.test(title))?.[0] ?? "";
  });
  if (!found.includes("staff") && !found.includes("discharge")) return null;
  if (!found.includes("day") && found.includes("time")) found[found.indexOf("time")] = "day";
  return found;
}

/** Return pasted text as rows of cells by column, beginning at the column it was pasted in.

`left` names the columns whose titles are not known here: they stay out, and whoever pastes is told.
*/
export function rowsOf(text, columns, at) {
  const lines = text.split(/\r\n|\r|\n/);
  while (lines.length && !lines[lines.length - 1].trim()) lines.pop();
  const mark = markOf(lines.filter((line) => line.trim()));
  let cells = lines.map((line) => (mark ? cellsOf(line, mark) : [line]));
  let names = cells.length > 0 ? titlesOf(cells[0]) : null;
  let left = [];
  if (names) {
    left = cells[0].filter((title, k) => title.trim() && !columns.includes(names[k]));
    cells = cells.slice(1);
  } else {
    names = columns.slice(columns.indexOf(at));
    if (at === "day" && cells.some(([first]) => BOTH.test(first))) {
      names = names.filter((name) => name !== "time");
    }
    const wider = Math.max(0, ...cells.map((row) => row.length)) - names.length;
    if (wider > 0) left = [`the last ${wider} of the row`];
  }
  const rows = cells.map((row) =>
    Object.fromEntries(
      row.map((cell, k) => [names[k], cell.trim()]).filter(([name]) => columns.includes(name)),
    ),
  );
  return { rows, left };
}
