/**
 * Arithmetic that is needed at the water: repeats of a head. The server does the same sums, and
 * shared vectors prove the two equal.
 */

/** Mean, spread (largest less smallest) and standard error of repeats; null without any. */
export function repeats(values) {
  const n = values.length;
  if (n === 0) return null;
  const mean = values.reduce((sum, value) => sum + value, 0) / n;
  const spread = Math.max(...values) - Math.min(...values);
  if (n === 1) return { n, mean, spread, standardError: null };
  const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return { n, mean, spread, standardError: Math.sqrt(squares / (n - 1) / n) };
}
