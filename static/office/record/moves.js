// The moves of a view over the record: along, closer, wider, to the ends; by button and by key.
export const DAY = 86400;
const WIDTHS = { day: DAY, week: 7 * DAY, month: 31 * DAY, year: 366 * DAY };

/** `view()` and `whole()` give {from_s, to_s}; `look(from, to)` goes there. */
export function makeMoves(view, whole, look) {
  function pan(share) {
    const step = (view().to_s - view().from_s) * share;
    look(view().from_s + step, view().to_s + step);
  }

  function zoom(factor) {
    const middle = (view().from_s + view().to_s) / 2;
    const half = ((view().to_s - view().from_s) * factor) / 2;
    look(middle - half, middle + half);
  }

  const moves = {
    pan,
    earlier: () => pan(-0.5),
    later: () => pan(0.5),
    in: () => zoom(0.5),
    out: () => zoom(2),
    all: () => look(whole().from_s, whole().to_s),
    first: () => look(whole().from_s, whole().from_s + view().to_s - view().from_s),
    last: () => look(whole().to_s - (view().to_s - view().from_s), whole().to_s),
  };
  for (const [name, width] of Object.entries(WIDTHS)) {
    moves[name] = () => {
      const middle = (view().from_s + view().to_s) / 2;
      const end = view().to_s >= whole().to_s - 60 ? whole().to_s : middle + width / 2;
      look(end - width, end);
    };
  }
  return moves;
}

export const keysOf = (moves) => ({
  ArrowLeft: () => moves.pan(-0.25),
  ArrowRight: () => moves.pan(0.25),
  "+": moves.in,
  "=": moves.in,
  "-": moves.out,
  "\u2212": moves.out,
  Home: moves.first,
  End: moves.last,
  0: moves.all,
});
