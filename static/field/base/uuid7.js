/**
 * Ids of field records: UUID version 7 (RFC 9562, 5.7), made on the phone.
 *
 * Later ids sort after earlier ones, also within one millisecond (a 12-bit counter in the rand_a
 * field, RFC 9562 6.2 method 1). `crypto.randomUUID` is not used: it is missing on plain HTTP.
 */
const randomBytes = (count) => crypto.getRandomValues(new Uint8Array(count));

export function makeUuid7(now = Date.now, random = randomBytes) {
  let last = 0;
  let counter = 0;
  return () => {
    const time = now();
    if (time > last) {
      last = time;
      counter = (random(1)[0] << 2) & 0x3ff; // leaves room to count up
    } else if (++counter > 0xfff) {
      last += 1;
      counter = 0;
    }
    const bytes = random(16);
    let rest = last;
    for (let i = 5; i >= 0; i--) {
      bytes[i] = rest % 256;
      rest = Math.floor(rest / 256);
    }
    bytes[6] = 0x70 | (counter >> 8);
    bytes[7] = counter & 0xff;
    bytes[8] = 0x80 | (bytes[8] & 0x3f);
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  };
}

export const uuid7 = makeUuid7();
