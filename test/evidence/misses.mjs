const DAYS_PER_YEAR = 365;

/** Misses a year beyond the clairvoyant's, and by how many days they are over the limit. */
export function misses(protocol, totals) {
  const { of, perYearAtMost } = protocol.matching;
  const perYear = of.map((key) => (totals[key] * DAYS_PER_YEAR) / totals.days);
  const over = perYear.reduce((sum, value) => sum + Math.max(0, value - perYearAtMost), 0);
  return { perYear, over };
}
