// Where a text says something lies beside the baseline: stations in hundredths, and the offset as it is written.

const AT = /(-?)(\d+)\+(\d\d)(?:\.(\d\d))?(?: to (-?)(\d+)\+(\d\d)(?:\.(\d\d))?)?(?:, (?:([\d.]+) \S+ )?(left|right|on the line))?/;
const NOWHERE = { from: null, to: null, offset: null };

const station = (sign, full, rest, part) => (sign ? -1 : 1) * (Number(full) * 10000 + Number(rest) * 100 + Number(part ?? 0));

// Stations in hundredths, and the offset in units of the grid, positive right; null where the text does not say.
export function along(text) {
  const match = text ? AT.exec(text) : null;
  if (!match) return NOWHERE;
  const from = station(match[1], match[2], match[3], match[4]);
  const to = match[6] === undefined ? from : station(match[5], match[6], match[7], match[8]);
  const side = match[10];
  const offset = side === "on the line" ? 0 : match[9] === undefined ? null : Number(match[9]) * (side === "left" ? -1 : 1);
  return { from: Math.min(from, to), to: Math.max(from, to), offset };
}

// A station as it is typed: 12+50, 1250, -0+12.5; null where it is none.
export function typed(text) {
  const match = /^\s*(-?)(?:(\d+)\+(\d\d)|(\d+))(?:\.(\d{1,2}))?\s*$/.exec(text);
  if (!match) return null;
  const whole = match[4] === undefined ? Number(match[2]) * 100 + Number(match[3]) : Number(match[4]);
  return (match[1] ? -1 : 1) * (whole * 100 + Number((match[5] ?? "").padEnd(2, "0")));
}
