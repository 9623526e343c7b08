"use strict";
// Columns of whole numbers and of texts, back from their packed form, each when it is first asked for.
geoqa.unpack = (() => {
  const NONE = -2147483648;
  const absent = (value) => value === NONE || value !== value;

  function bytesOf(text) {
    if (Uint8Array.fromBase64) return Uint8Array.fromBase64(text);
    const raw = atob(text);
    const bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
    return bytes;
  }

  async function inflated(bytes, size) {
    if (typeof DecompressionStream === "undefined") return geoqa.inflate(bytes, size);
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  }

  // Planes hold the lowest byte of every row, then the next; folded: 0, -1, 1, -2, 2 …
  function decoded(bytes, entry, rows) {
    const { at, planes, base, delta, none } = entry;
    const wide = delta || planes > 3 || Math.abs(base) > 2 ** 29;
    const out = wide ? new Float64Array(rows) : new Int32Array(rows);
    const nothing = wide ? NaN : NONE;
    const first = none ? 1 : 0;
    let last = base;
    for (let i = 0; i < rows; i++) {
      let code = 0;
      for (let plane = planes - 1; plane >= 0; plane--) code = code * 256 + bytes[at + plane * rows + i];
      if (code < first) {
        out[i] = nothing;
        continue;
      }
      code -= first;
      const value = (code % 2 ? -(code + 1) / 2 : code / 2) + (delta ? last : base);
      out[i] = value;
      if (delta) last = value;
    }
    return out;
  }

  class Table {
    constructor(entry, bytes) {
      this.rows = entry.rows;
      this.facts = entry.facts ?? {};
      this._columns = entry.columns;
      this._bytes = bytes;
      this._numbers = new Map();
      this._texts = new Map();
    }

    has(name) {
      return name in this._columns;
    }

    numbers(name) {
      if (!this._numbers.has(name)) this._numbers.set(name, decoded(this._bytes, this._columns[name], this.rows));
      return this._numbers.get(name);
    }

    // The different texts of a column, in the order of their places.
    texts(name) {
      if (!this._texts.has(name)) {
        const [at, size] = this._columns[name].texts;
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

  async function open(about, text) {
    const bytes = await inflated(bytesOf(text), about.data.size);
    const tables = {};
    for (const [name, entry] of Object.entries(about.data.tables)) tables[name] = new Table(entry, bytes);
    return new Proxy(tables, { get: (all, name) => all[name] ?? new Table(EMPTY, bytes) });
  }

  return { open, absent, NONE };
})();
