// One judged number as a picture: the allowed range, the deviation, and two standard uncertainties to each side.
import { ofVerdict, shape } from "./icon.js";
import { absent } from "./unpack.js";
import * as words from "./words.js";

const WIDTH = 280, HEIGHT = 46, MIDDLE = 18;

function range(finding) {
  const { deviation, u, limit } = finding;
  const spread = absent(u) ? 0 : 2 * u;
  const ends = [deviation - spread, deviation + spread, 0, limit.lower, limit.upper].filter((end) => end !== null);
  const low = Math.min(...ends), high = Math.max(...ends);
  const margin = (high - low || 1) * 0.12;
  return [low - margin, high + margin, spread];
}

export function strip(finding) {
  const { deviation, limit, verdict, check, quantity } = finding;
  if (absent(deviation) || (limit.lower === null && limit.upper === null)) return null;
  const [low, high, spread] = range(finding);
  const x = (value) => ((value - low) / (high - low)) * WIDTH;
  const from = limit.lower === null ? 0 : x(limit.lower), to = limit.upper === null ? WIDTH : x(limit.upper);
  const made = shape("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, class: "strip", role: "img" });
  const title = shape("title", {});
  title.textContent = `${words.judged(finding, { way: false })}; allowed ${limit.allowed}`;
  made.append(
    title,
    shape("rect", { x: 0, y: MIDDLE - 1, width: WIDTH, height: 2, class: "strip-axis" }),
    shape("rect", { x: from, y: MIDDLE - 9, width: Math.max(1, to - from), height: 18, class: "strip-allowed" }),
  );
  const tick = (value, half, name) => shape("path", { d: `M${x(value)} ${MIDDLE - half}v${2 * half}`, class: name });
  for (const end of [limit.lower, limit.upper]) if (end !== null) made.append(tick(end, 12, "strip-limit"));
  if (low < 0 && high > 0) made.append(tick(0, 9, "strip-zero"));
  if (spread) {
    const [left, right] = [deviation - spread, deviation + spread];
    made.append(
      shape("path", { d: `M${x(left)} ${MIDDLE}H${x(right)}`, class: "strip-spread" }),
      tick(left, 4, "strip-spread"),
      tick(right, 4, "strip-spread"),
    );
  }
  const mark = ofVerdict(verdict, 16);
  mark.setAttribute("x", x(deviation) - 8);
  mark.setAttribute("y", MIDDLE - 8);
  made.append(mark, label(check, quantity, limit, x));
  return made;
}

const APART = 130;

// The two ends of the allowed range, in words, under the strip; in one where they would lie on each other.
function label(check, quantity, limit, x) {
  const group = shape("g", { class: "strip-words" });
  const write = (place, words) => {
    const anchor = place < 45 ? "start" : place > WIDTH - 45 ? "end" : "middle";
    const text = shape("text", { x: Math.min(WIDTH - 1, Math.max(1, place)), y: HEIGHT - 3, "text-anchor": anchor });
    text.textContent = words;
    group.append(text);
  };
  const twoSided = limit.lower !== null && limit.upper !== null;
  if (twoSided && x(limit.upper) - x(limit.lower) < APART) {
    const right = x(limit.upper) > WIDTH / 2;
    write(right ? x(limit.upper) : x(limit.lower), limit.allowed);
    group.lastChild.setAttribute("text-anchor", right ? "end" : "start");
    return group;
  }
  for (const end of [limit.lower, limit.upper]) {
    if (end === null) continue;
    write(x(end), words.bound(end, check, quantity));
  }
  return group;
}
