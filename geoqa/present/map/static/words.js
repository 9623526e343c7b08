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

export function quantity(whole, kind, signed = false) {
  if (absent(whole)) return "–";
  const text = number(whole, about.digits_of[kind] ?? about.digits, signed);
  if (kind === "ratio" || kind === "slope") return `${text} %`;
  if (kind === "count") return text;
  if (kind === "angle") return `${text}°`;
  if (kind === "time") return `${text} s`;
  return `${text} ${about.unit}`;
}

// With the way it points on the ground, where that is known.
export function deviation(whole, check, kind, toward = "") {
  if (absent(whole)) return "–";
  if (toward) return `${deviation(whole, check, kind)} (${toward})`;
  if (about.words.radial.includes(check)) return `${quantity(whole, kind)} away`;
  const directions = said(about.words.directions, check, null);
  if (!directions) return quantity(whole, kind);
  const size = quantity(Math.abs(whole), kind);
  return whole === 0 ? size : `${size} ${directions[whole > 0 ? 1 : 0]}`;
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
export const why = (code) => said(about.words.whys, code, code);
export const flag = (code) => said(about.words.flags, code, code);
// "of its own and shared by the session: declared for all kinds: Job file"; one sentence for parts with the same source.
export function knownFrom(kindName, axis) {
  const bySource = new Map();
  for (const [part, source] of about.budget[kindName ?? ""]?.[axis] ?? []) {
    bySource.set(source, [...(bySource.get(source) ?? []), part]);
  }
  return [...bySource].map(([source, parts]) => `${parts.join(" and ")}: ${source}`).join("; ");
}

export const many = (count, one, more = `${one}s`) => `${count.toLocaleString("en-US")} ${count === 1 ? one : more}`;
