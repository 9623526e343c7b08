// The same words as in the report: whole last digits in, text out. Nothing is rounded here.
import { absent } from "./unpack.js";

let about = null;

export const begin = (words) => (about = words);

export function number(whole, digits, signed = false) {
  if (absent(whole)) return "–";
  const size = Math.abs(whole);
  const unit = 10 ** digits;
  const text = digits ? `${Math.floor(size / unit)}.${String(size % unit).padStart(digits, "0")}` : String(size);
  return (whole < 0 ? "-" : signed && whole > 0 ? "+" : "") + text;
}

// A length bears its unit only where it is the first of a card; lists and tables say it in their heads.
export function quantity(whole, kind, { digits = about.digits_of[kind] ?? about.digits, unit = false } = {}) {
  if (absent(whole)) return "–";
  const text = number(whole, digits);
  if (kind === "ratio" || kind === "slope") return `${text} %`;
  if (kind === "count") return text;
  if (kind === "angle") return `${text}°`;
  if (kind === "time") return `${text} s`;
  return unit ? `${text} ${about.unit}` : text;
}

// Without its last digit, half to even, as on paper.
function shorter(whole) {
  const tens = Math.floor(Math.abs(whole) / 10), rest = Math.abs(whole) % 10;
  return Math.sign(whole) * (tens + (rest > 5 || (rest === 5 && tens % 2 === 1) ? 1 : 0));
}

// A slope in thousandths of a per cent as its uncertainty deserves, and never so short that it reads as a limit.
function slopeDeserved(whole, u, limit) {
  if (absent(u) || u <= 0) return [whole, 3];
  const cut = (value, digits) => Math.round(value / 10 ** (3 - digits)) || 0;
  let digits = Math.min(Math.max(Math.ceil(-Math.log10(u / 1000)), 1), 3);
  const bounds = [limit?.lower, limit?.upper].filter((bound) => bound !== null && bound !== undefined && bound !== whole);
  while (digits < 3 && bounds.some((bound) => cut(bound, digits) === cut(whole, digits))) digits++;
  return [cut(whole, digits), digits];
}

const isSlope = (kind) => kind === "slope" || kind === "ratio";

// Beside its uncertainty a slope is shown as that deserves; all else in full.
export function beside(whole, kind, { u, limit = null }, unit = false) {
  if (!isSlope(kind) || absent(whole)) return quantity(whole, kind, { unit });
  const [shown, digits] = slopeDeserved(whole, u, limit);
  return quantity(shown, kind, { digits });
}

// A length as its uncertainty deserves, 0 being that of no shot, and never so short that it reads as a limit or as beyond one.
function deserved(whole, u, limit) {
  const short = shorter(whole);
  const crosses = [limit?.lower, limit?.upper].some(
    (bound) => bound !== null && bound !== undefined && Math.sign(10 * short - bound) !== Math.sign(whole - bound),
  );
  const full = crosses || (u > 0 && u < about.fine);
  return full ? [whole, about.digits] : [short, about.digits - 1];
}

// A limit: the shorter, unless that would be another limit.
export function bound(whole, check, kind) {
  const short = kind === "length" && whole % 10 === 0 ? [whole / 10, about.digits - 1] : null;
  return deviation(whole, check, kind, { short });
}

// What is exceeded once in twenty times: twice 1 sigma.
export function expanded(u, kind) {
  const [shown, digits] =
    kind === "length" ? deserved(2 * u, u, null) : isSlope(kind) && !absent(u) ? slopeDeserved(2 * u, u, null) : [2 * u];
  return `±${quantity(shown, kind, { digits })}`;
}

// In full, as arithmetic asks for; `short` is how `deserved` shows it.
export function deviation(whole, check, kind, { short = null, unit = false } = {}) {
  if (absent(whole)) return "–";
  const [shown, digits] = short ?? [whole, undefined];
  if (about.words.radial.includes(check)) return `${quantity(shown, kind, { digits, unit })} away`;
  const directions = said(about.words.directions, check, null);
  if (!directions) return quantity(shown, kind, { digits, unit });
  const size = quantity(Math.abs(shown), kind, { digits, unit });
  return shown === 0 ? size : `${size} ${directions[whole > 0 ? 1 : 0]}`;
}

// The number of a finding as it is read first, with the way it points on the ground, where that is known.
export function judged({ deviation: whole, check, quantity: kind, u, limit, toward }, { way = true, unit = false } = {}) {
  const short = absent(whole) ? null : kind === "length" ? deserved(whole, u, limit) : isSlope(kind) ? slopeDeserved(whole, u, limit) : null;
  const text = deviation(whole, check, kind, { short, unit });
  return way && toward && !absent(whole) && short?.[0] !== 0 ? `${text} (${toward})` : text;
}

export function station(hundredths) {
  if (absent(hundredths)) return "–";
  const size = Math.abs(hundredths);
  const rest = String(Math.floor((size % 10000) / 100)).padStart(2, "0");
  return `${hundredths < 0 ? "-" : ""}${Math.floor(size / 10000)}+${rest}.${String(size % 100).padStart(2, "0")}`;
}

export function probability(thousandths) {
  if (absent(thousandths)) return "–";
  if (thousandths <= 0) return "less than 0.1 %";
  if (thousandths >= 1000) return "more than 99.9 %";
  return `${Math.floor(thousandths / 10)}.${thousandths % 10} %`;
}

export function time(seconds) {
  if (absent(seconds)) return "";
  return new Date(seconds * 1000).toISOString().slice(0, 19).replace("T", " ") + " UTC";
}

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
export const kind = (text) => capital(text.replaceAll("-", " "));
const said = (list, code, other) => (Object.hasOwn(list, code) ? list[code] : other);
export const checkTitle = (check) => said(about.words.checks, check, kind(check));
export const means = (check) => said(about.words.means, check, "");
export const why = (code) => said(about.words.whys, code, code);
export const flag = (code) => said(about.words.flags, code, code);
// "of its own and shared by the session: declared for all kinds: Job file"; one sentence for parts with the same source.
export function knownFrom(kindName, axis) {
  const bySource = new Map();
  for (const [part, source] of about.budget.entries[about.budget.of[kindName ?? ""]]?.[axis] ?? []) {
    bySource.set(source, [...(bySource.get(source) ?? []), part]);
  }
  return [...bySource].map(([source, parts]) => `${parts.join(" and ")}: ${source}`).join("; ");
}

export const many = (count, one, more = `${one}s`) => `${count.toLocaleString("en-US")} ${count === 1 ? one : more}`;
