/**
 * When a picture was taken, by its own words (Exif 2.3x: DateTimeOriginal, OffsetTimeOriginal), read
 * before they are left behind. Nothing else of them is looked at.
 */
const LOOKED_AT_BYTES = 262144;
const EXIF_IFD = 0x8769;
const TAKEN = 0x9003;
const TAKEN_OFFSET = 0x9011;
const APP1 = 0xffe1;
const START_OF_PICTURE = 0xffda;
const EARLIEST = Date.parse("1990-01-01T00:00:00Z");

/** Where the words about the picture begin in a JPEG, or null. */
function tiffOf(view) {
  if (view.getUint16(0) !== 0xffd8) return null;
  for (let at = 2; view.getUint16(at) !== START_OF_PICTURE; at += 2 + view.getUint16(at + 2))
    if (view.getUint16(at) === APP1 && view.getUint32(at + 4) === 0x45786966) return at + 10;
  return null;
}

/** {tag: value} of one directory: texts, and the addresses of others. */
function directory(view, tiff, at, little) {
  const found = {};
  for (let i = 0; i < view.getUint16(at, little); i += 1) {
    const entry = at + 2 + 12 * i;
    const [tag, kind] = [view.getUint16(entry, little), view.getUint16(entry + 2, little)];
    const count = view.getUint32(entry + 4, little);
    const value = view.getUint32(entry + 8, little);
    const from = count > 4 ? tiff + value : entry + 8;
    if (kind === 4) found[tag] = tiff + value;
    if (kind === 2 && [TAKEN, TAKEN_OFFSET].includes(tag))
      found[tag] = String.fromCharCode(
        ...new Uint8Array(view.buffer, view.byteOffset + from, count - 1),
      );
  }
  return found;
}

function words(view) {
  const tiff = tiffOf(view);
  if (tiff === null) return {};
  const little = view.getUint16(tiff) === 0x4949;
  const main = directory(view, tiff, tiff + view.getUint32(tiff + 4, little), little);
  return main[EXIF_IFD] ? directory(view, tiff, main[EXIF_IFD], little) : {};
}

/**
 * The instant in ISO 8601, or null where the picture says none that can be. A picture that names no
 * offset from UTC is taken to be in that of the site.
 */
export function timeIn(bytes, utcOffsetMin, now) {
  try {
    const said = words(new DataView(bytes));
    const clock = said[TAKEN]?.match(/^(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)$/);
    if (!clock) return null;
    const [, year, month, day, time] = clock;
    const zone = said[TAKEN_OFFSET]?.match(/^([+-])(\d\d):(\d\d)$/);
    const minutes = zone ? (zone[1] === "-" ? -1 : 1) * (60 * zone[2] + +zone[3]) : utcOffsetMin;
    const instant = Date.parse(`${year}-${month}-${day}T${time}Z`) - 60000 * minutes;
    return instant >= EARLIEST && instant <= Date.parse(now)
      ? new Date(instant).toISOString()
      : null;
  } catch {
    return null; // cut short, or of another kind
  }
}

export const timeOf = async (file, utcOffsetMin, now) =>
  timeIn(await file.slice(0, LOOKED_AT_BYTES).arrayBuffer(), utcOffsetMin, now);
