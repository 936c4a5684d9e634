/** A count with its noun: 1 file, 2 files; the twin of `counted` in app/language/words.py. */
export const counted = (count, one, many = `${one}s`) => `${count} ${count === 1 ? one : many}`;
