// Columns of whole numbers and of texts, back from their packed form, each when it is first asked for.
import { bytesOf } from "./bytes.js";
import { inflate } from "./inflate.js";

const NONE = -2147483648;
export const absent = (value) => value === NONE || value !== value;

// Piece by piece into room that was made at once.
async function inflated(bytes, size) {
  if (typeof DecompressionStream === "undefined") return inflate(bytes, size);
  const { readable, writable } = new DecompressionStream("deflate-raw"), writer = writable.getWriter(), reader = readable.getReader();
  Promise.all([writer.write(bytes), writer.close()]).catch(() => {}); // the reader is told as well
  const out = new Uint8Array(size);
  let filled = 0;
  for (let piece = await reader.read(); !piece.done; piece = await reader.read()) {
    out.set(piece.value, filled);
    filled += piece.value.length;
  }
  return out;
}

// Planes hold the lowest byte of every row, then the next. Codes are folded: 0, -1, 1, -2, 2 …, and one
// higher where 0 stands for "none"; a column of differences adds up from its base.
function decoded(bytes, entry, rows) {
  const { planes, base, delta, none } = entry;
  const wide = delta || planes > 3 || Math.abs(base) > 2 ** 29;
  const out = wide ? new Float64Array(rows) : new Int32Array(rows);
  if (planes === 0) return out.fill(none ? (wide ? NaN : NONE) : base);
  const codes = planes > 3 ? wideCodes(bytes, entry, rows) : narrowCodes(bytes, entry, rows);
  if (planes > 3) unfoldedWide(codes, out, entry);
  else if (wide) unfolded(codes, out, base, delta, none);
  else unfoldedSmall(codes, out, base, none);
  return out;
}

// Three times the same, each for one kind of arrays only, which is what makes it fast.
function unfoldedSmall(codes, out, base, none) {
  for (let i = 0; i < out.length; i++) {
    const code = codes[i] - none;
    out[i] = code < 0 ? NONE : base + ((code >>> 1) ^ -(code & 1));
  }
}

function unfolded(codes, out, base, delta, none) {
  let from = base;
  for (let i = 0; i < out.length; i++) {
    const code = codes[i] - none;
    const value = from + ((code >>> 1) ^ -(code & 1));
    out[i] = code < 0 ? NaN : value;
    if (delta && code >= 0) from = value;
  }
}

function unfoldedWide(codes, out, { base, delta, none }) {
  let from = base;
  for (let i = 0; i < out.length; i++) {
    const code = codes[i] - none;
    const value = from + (code % 2 ? -(code + 1) / 2 : code / 2);
    out[i] = code < 0 ? NaN : value;
    if (delta && code >= 0) from = value;
  }
}

function narrowCodes(bytes, { at, planes }, rows) {
  const codes = new Uint32Array(rows);
  const low = bytes.subarray(at, at + rows);
  const middle = bytes.subarray(at + rows, at + 2 * rows);
  const high = bytes.subarray(at + 2 * rows, at + 3 * rows);
  if (planes === 1) codes.set(low);
  else if (planes === 2) for (let i = 0; i < rows; i++) codes[i] = low[i] | (middle[i] << 8);
  else for (let i = 0; i < rows; i++) codes[i] = low[i] | (middle[i] << 8) | (high[i] << 16);
  return codes;
}

function wideCodes(bytes, { at, planes }, rows) {
  const codes = new Float64Array(rows);
  for (let plane = planes - 1; plane >= 0; plane--) {
    for (let i = 0; i < rows; i++) codes[i] = codes[i] * 256 + bytes[at + plane * rows + i];
  }
  return codes;
}

class Table {
  constructor(entry, bytes) {
    this.rows = entry.rows;
    this._facts = entry.facts ?? {};
    this._columns = entry.columns;
    this._bytes = bytes;
    this._numbers = new Map();
    this._texts = new Map();
  }

  // A column that nothing made is a column of nothing.
  numbers(name) {
    if (!this._numbers.has(name)) {
      const entry = this._columns[name];
      const nothing = () => new Int32Array(this.rows).fill(NONE);
      this._numbers.set(name, entry ? decoded(this._bytes, entry, this.rows) : nothing());
    }
    return this._numbers.get(name);
  }

  // The different texts of a column, in the order of their places.
  texts(name) {
    return name in this._columns ? this._list(name, this._columns[name].texts) : [];
  }

  // Records that a column points into.
  facts(name) {
    return name in this._facts ? this._list(`${name}.facts`, this._facts[name]) : [];
  }

  _list(name, [at, size]) {
    if (!this._texts.has(name)) {
      this._texts.set(name, JSON.parse(new TextDecoder().decode(this._bytes.subarray(at, at + size))));
    }
    return this._texts.get(name);
  }

  text(name, row) {
    const place = this.numbers(name)[row];
    return absent(place) ? "" : this.texts(name)[place];
  }

  // A text written as a stem and a running number.
  name(name, row) {
    const number = this.numbers(`${name}.number`)[row];
    const stem = this.text(`${name}.stem`, row);
    return absent(number) ? stem : stem + String(number).padStart(this.numbers(`${name}.width`)[row], "0");
  }
}

const EMPTY = { rows: 0, columns: {} };

export async function open(about, text) {
  const bytes = await inflated(bytesOf(text), about.data.size);
  const tables = {};
  for (const [name, entry] of Object.entries(about.data.tables)) tables[name] = new Table(entry, bytes);
  return new Proxy(tables, { get: (all, name) => all[name] ?? new Table(EMPTY, bytes) });
}
