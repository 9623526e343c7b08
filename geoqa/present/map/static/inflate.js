// Undo deflate (RFC 1951) where the browser has no stream for it.

const LENGTH_BITS = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0];
const LENGTH_BASE = [3];
for (const bits of LENGTH_BITS.slice(0, 27)) LENGTH_BASE.push(LENGTH_BASE[LENGTH_BASE.length - 1] + (1 << bits));
LENGTH_BASE.push(258);
const ORDER = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];

const QUICK = 10; // bits whose symbol is looked up at once

// Canonical code: how many codes of each length, and the symbols in code order; and for the next bits, as they come, the
// symbol they begin with and its length, as symbol * 16 + length, or 0 where the code is longer.
function codeOf(lengths) {
  const counts = new Uint16Array(16);
  const first = new Uint16Array(16);
  for (const length of lengths) counts[length]++;
  counts[0] = 0;
  for (let length = 1; length < 16; length++) first[length] = first[length - 1] + counts[length - 1];
  const symbols = new Uint16Array(lengths.length), next = first.slice(), quick = new Uint16Array(1 << QUICK);
  const codes = new Uint16Array(16);
  for (let length = 1; length < 16; length++) codes[length] = (codes[length - 1] + counts[length - 1]) << 1;
  lengths.forEach((length, symbol) => {
    if (!length) return;
    symbols[next[length]++] = symbol;
    const code = codes[length]++;
    if (length > QUICK) return;
    let turned = 0;
    for (let bit = 0; bit < length; bit++) turned |= ((code >> bit) & 1) << (length - 1 - bit);
    for (let at = turned; at < 1 << QUICK; at += 1 << length) quick[at] = symbol * 16 + length;
  });
  return { counts, symbols, quick };
}

const FIXED = [
  codeOf(Array.from({ length: 288 }, (_, symbol) => (symbol < 144 ? 8 : symbol < 256 ? 9 : symbol < 280 ? 7 : 8))),
  codeOf(new Array(30).fill(5)),
];

export function inflate(bytes, size) {
  const out = new Uint8Array(size);
  let place = 0, held = 0, heldBits = 0, filled = 0;

  function bits(count) {
    while (heldBits < count) {
      held |= bytes[place++] << heldBits;
      heldBits += 8;
    }
    const value = held & ((1 << count) - 1);
    held >>>= count;
    heldBits -= count;
    return value;
  }

  function symbol({ counts, symbols, quick }) {
    while (heldBits < QUICK && place < bytes.length) {
      held |= bytes[place++] << heldBits;
      heldBits += 8;
    }
    const found = quick[held & ((1 << QUICK) - 1)], size = found & 15;
    if (size && size <= heldBits) {
      held >>>= size;
      heldBits -= size;
      return found >> 4;
    }
    let code = 0, first = 0, index = 0;
    for (let length = 1; length < 16; length++) {
      code |= bits(1);
      const count = counts[length];
      if (code - count < first) return symbols[index + code - first];
      index += count;
      first = (first + count) << 1;
      code <<= 1;
    }
    throw new Error("The data in this page is damaged.");
  }

  function ownCodes() {
    const literals = bits(5) + 257, distances = bits(5) + 1, count = bits(4) + 4;
    const short = new Array(19).fill(0);
    for (let i = 0; i < count; i++) short[ORDER[i]] = bits(3);
    const code = codeOf(short);
    const lengths = [];
    while (lengths.length < literals + distances) {
      const next = symbol(code);
      if (next < 16) lengths.push(next);
      else {
        const value = next === 16 ? lengths[lengths.length - 1] : 0;
        let times = next === 16 ? 3 + bits(2) : next === 17 ? 3 + bits(3) : 11 + bits(7);
        while (times--) lengths.push(value);
      }
    }
    return [codeOf(lengths.slice(0, literals)), codeOf(lengths.slice(literals))];
  }

  function coded([literals, distances]) {
    for (;;) {
      let next = symbol(literals);
      if (next === 256) return;
      if (next < 256) {
        out[filled++] = next;
        continue;
      }
      next -= 257;
      let length = LENGTH_BASE[next] + bits(LENGTH_BITS[next]);
      const step = symbol(distances);
      const extra = step < 2 ? 0 : (step >> 1) - 1;
      const back = step < 2 ? step + 1 : ((2 + (step & 1)) << extra) + bits(extra) + 1;
      for (; length; length--, filled++) out[filled] = out[filled - back];
    }
  }

  function stored() {
    place -= heldBits >> 3; // whole bytes taken too early
    held = heldBits = 0;
    const length = bytes[place] | (bytes[place + 1] << 8);
    out.set(bytes.subarray(place + 4, place + 4 + length), filled);
    place += 4 + length;
    filled += length;
  }

  for (let last = 0; !last; ) {
    last = bits(1);
    const kind = bits(2);
    if (kind === 0) stored();
    else coded(kind === 1 ? FIXED : ownCodes());
  }
  return out;
}
