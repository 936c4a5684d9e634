/** Which site is nearest: great-circle distance on a sphere, good to 0.5 %. */
const EARTH_M = 6371000; // mean radius, IUGG

export function distanceM(a, b) {
  const rad = Math.PI / 180;
  const dLat = (b.latitude - a.latitude) * rad;
  const dLon = (b.longitude - a.longitude) * rad;
  const h =
    Math.sin(dLat / 2) ** 2 +
    Math.cos(a.latitude * rad) * Math.cos(b.latitude * rad) * Math.sin(dLon / 2) ** 2;
  return 2 * EARTH_M * Math.asin(Math.min(1, Math.sqrt(h)));
}

/** Sites nearest first when `here` is known (sites without a position after), else recent first. */
export function order(sites, here) {
  const placed = sites.map((site) => {
    const known = here && typeof site.latitude === "number" && typeof site.longitude === "number";
    return { site, away_m: known ? distanceM(here, site) : null };
  });
  const recent = ({ site }) => (site.last_reading_at ? Date.parse(site.last_reading_at) : 0);
  return placed.sort((a, b) => {
    if (a.away_m !== null && b.away_m !== null) return a.away_m - b.away_m;
    if (a.away_m !== b.away_m) return a.away_m === null ? 1 : -1;
    return recent(b) - recent(a) || a.site.name.localeCompare(b.site.name);
  });
}

/** Ask the phone once where it is; null when it will not or cannot say. */
export function whereAmI(geolocation) {
  if (!geolocation) return Promise.resolve(null);
  return new Promise((resolve) => {
    geolocation.getCurrentPosition(
      ({ coords }) => resolve({ latitude: coords.latitude, longitude: coords.longitude }),
      () => resolve(null),
      { maximumAge: 300000, timeout: 8000 },
    );
  });
}

export function distanceWords(metres) {
  return metres < 950
    ? `${Math.round(metres / 10) * 10} m away`
    : `${(metres / 1000).toFixed(1)} km away`;
}
