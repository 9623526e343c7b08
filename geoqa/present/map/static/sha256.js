// SHA-256 (FIPS 180-4) of a short text, as hexadecimal; the names of findings are made from it.

// First 32 bits of the fractional parts of the square and cube roots of the first primes.
const primes = [];
for (let n = 2; primes.length < 64; n++) if (primes.every((prime) => n % prime)) primes.push(n);
const fraction = (root) => Math.floor((root - Math.floor(root)) * 2 ** 32);
const START = primes.slice(0, 8).map((prime) => fraction(Math.sqrt(prime)));
const ROUNDS = primes.map((prime) => fraction(Math.cbrt(prime)));
const turned = (word, by) => (word >>> by) | (word << (32 - by));

function padded(bytes) {
  const blocks = new Uint8Array(Math.ceil((bytes.length + 9) / 64) * 64);
  blocks.set(bytes);
  blocks[bytes.length] = 0x80;
  new DataView(blocks.buffer).setUint32(blocks.length - 4, bytes.length * 8);
  return new DataView(blocks.buffer);
}

function mixed(state, words) {
  for (let i = 16; i < 64; i++) {
    const a = words[i - 15], b = words[i - 2];
    const low = turned(a, 7) ^ turned(a, 18) ^ (a >>> 3), high = turned(b, 17) ^ turned(b, 19) ^ (b >>> 10);
    words[i] = words[i - 16] + low + words[i - 7] + high;
  }
  let [a, b, c, d, e, f, g, h] = state;
  for (let i = 0; i < 64; i++) {
    const high = h + (turned(e, 6) ^ turned(e, 11) ^ turned(e, 25)) + ((e & f) ^ (~e & g)) + ROUNDS[i] + words[i];
    const low = (turned(a, 2) ^ turned(a, 13) ^ turned(a, 22)) + ((a & b) ^ (a & c) ^ (b & c));
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + high) | 0, c, b, a, (high + low) | 0];
  }
  return [a, b, c, d, e, f, g, h].map((word, i) => (state[i] + word) | 0);
}

export function sha256(text) {
  const view = padded(new TextEncoder().encode(text));
  let state = START;
  for (let at = 0; at < view.byteLength; at += 64) {
    const words = new Uint32Array(64);
    for (let i = 0; i < 16; i++) words[i] = view.getUint32(at + 4 * i);
    state = mixed(state, words);
  }
  return state.map((word) => (word >>> 0).toString(16).padStart(8, "0")).join("");
}
