// On paper: letter or tabloid, landscape; the map at a round scale, title, legend and the list after it.
import { nextOf, titleOf } from "./card.js";
import { byId, element } from "./elements.js";
import { ofVerdict } from "./icon.js";
import * as ink from "./ink.js";
import * as list from "./list.js";
import { rankOf } from "./pins.js";
import { redraw } from "./readout.js";
import * as records from "./records.js";
import { forPaper } from "./turn.js";
import { bounds as boundsOf, home } from "./view.js";
import * as words from "./words.js";

const INCH = 96, MARGIN = 1; // both sides together
const SHEETS = { letter: [11, 8.5], tabloid: [17, 11] };
const SCALES = [1, 2, 3, 4, 5, 6, 8].flatMap((step) => [1, 10, 100, 1000, 10000].map((ten) => step * ten)).sort((a, b) => a - b);
const MOST = 200;
let map = null, layer = null, about = null, before = null, sheet = "letter";

export function begin(theMap, theLayer, allAbout) {
  [map, layer, about] = [theMap, theLayer, allAbout];
  window.addEventListener("beforeprint", lay);
  window.addEventListener("afterprint", restore);
  byId("printing").append(...Object.entries(SHEETS).map(([name, [wide, high]]) =>
    element("button", { type: "button", class: "more", text: `${words.capital(name)}, ${wide} × ${high} in`, onclick: () => print(name) })));
}

// The sheet is chosen by a rule of its own for as long as it is printed; the browser's own print is on letter paper.
function print(name) {
  const rule = element("style", { text: `@page { size: ${SHEETS[name][0]}in ${SHEETS[name][1]}in; }` });
  document.head.append(rule);
  sheet = name;
  window.addEventListener("afterprint", () => {
    rule.remove();
    sheet = "letter";
  }, { once: true });
  window.print();
}

// What is seen of the job; ground beyond it needs no paper.
function seen() {
  const bounds = map.getBounds(), job = boundsOf(home()).pad(0.04);
  if (!bounds.intersects(job)) return bounds;
  const cut = (low, high) => [Math.max(...low), Math.min(...high)];
  const [south, north] = cut([bounds.getSouth(), job.getSouth()], [bounds.getNorth(), job.getNorth()]);
  const [west, east] = cut([bounds.getWest(), job.getWest()], [bounds.getEast(), job.getEast()]);
  return L.latLngBounds([south, west], [north, east]);
}

// The same stretch of ground, at the next smaller round scale, in a map of the size of the paper.
function lay() {
  if (layer.printing) return;
  before = { centre: map.getCenter(), zoom: map.getZoom() };
  const [wide, high] = SHEETS[sheet].map((inches) => inches - MARGIN);
  before.turnBack = forPaper(wide, high / 2);
  const bounds = seen();
  map.closePopup();
  layer.printing = true;
  document.body.classList.add("printing");
  byId("page").style.setProperty("--paper-wide", `${wide}in`);
  byId("page").style.setProperty("--paper-map", `${tall(bounds, wide, high).toFixed(2)}in`);
  ink.choose();
  map.invalidateSize({ animate: false, pan: false });
  const fitting = map.getBoundsZoom(bounds);
  const scale = SCALES.find((each) => INCH / each <= 2 ** fitting) ?? SCALES[SCALES.length - 1];
  map.options.zoomSnap = 0;
  map.setView(bounds.getCenter(), Math.log2(INCH / scale), { animate: false });
  const said = `1 in = ${scale.toLocaleString("en-US")} ${about.unit} when printed at 100 % on ${sheet} paper`;
  byId("paper-scale").textContent = said;
  byId("paper-list").replaceChildren(...rows());
  around();
  layer.redraw();
  redraw();
}

// Inches that a map of the width of the paper needs, so that the list begins on the first page where it can.
function tall(bounds, wide, high) {
  const across = bounds.getEast() - bounds.getWest(), up = bounds.getNorth() - bounds.getSouth();
  return Math.min(high - 2.75, Math.max(2.1, (wide * up) / (across || 1) + 1));
}

function restore() {
  if (!layer.printing) return;
  layer.printing = false;
  document.body.classList.remove("printing");
  ink.choose();
  map.options.zoomSnap = 0.25;
  map.invalidateSize({ animate: false, pan: false });
  before.turnBack();
  map.setView(before.centre, before.zoom, { animate: false });
  byId("paper-list").replaceChildren();
  layer.redraw();
}

// A page that comes loose still says whose it is and that nobody reviewed it; what to read first comes first.
function around() {
  const text = (id) => (byId(id).hidden ? "" : byId(id).textContent);
  const head = ["job-name", "job-revision", "preliminary", "reviewed"].map(text).filter(Boolean);
  byId("paper-head").textContent = head.join(" · ");
  const notes = [...byId("notes-list").children].map(({ dataset, textContent }) => element("li", { text: dataset.whole ?? textContent }));
  byId("paper-notes-list").replaceChildren(...notes);
  byId("paper-notes-title").hidden = !notes.length;
  byId("paper-caution").textContent = ["buried", "caution"].map(text).filter(Boolean).join(" ");
}

// The list as it is on the screen: what is out of tolerance one by one, the rest by kind and reason.
function rows() {
  const wanted = list.gathered();
  const shown = wanted.slice(0, MOST).map((each) => row(Array.isArray(each) ? each : [each]));
  if (wanted.length > shown.length) {
    const left = words.many(wanted.length - shown.length, "more line");
    shown.push(element("tr", {}, element("td", { colspan: 9, text: `and ${left}, in the tables written beside this map` })));
  }
  return shown;
}

// Where it is, and which line and shots.
function placed(place, finding) {
  const head = list.headOf(place, finding), title = titleOf(finding);
  return head.includes(title) ? head : `${head} – ${title}`;
}

function row(group) {
  const finding = records.finding(group[0].row), many = group.length > 1 ? list.together(group) : null;
  const alone = group.length === 1, counted = finding.quantity === "count";
  const rank = rankOf(finding.row), next = finding.verdict.verdict === "OUT" ? element("div", { text: nextOf(finding) }) : null;
  return element(
    "tr", {},
    element("td", {}, ofVerdict(finding.verdict, 13), ` ${finding.verdict.short}`),
    element("td", { text: rank ?? (many ? many.items.join(", ") : finding.item) }),
    element("td", { text: alone ? placed(group[0].place, finding) : many.title }, next),
    element("td", { text: alone ? words.checkTitle(finding.check) : many.said }),
    element("td", { text: alone ? list.number(finding) : many.undecided ? "" : words.why(finding.why) }),
    element("td", { text: alone && !counted ? finding.limit.allowed : "" }),
    element("td", { text: alone && !counted && finding.u ? words.quantity(finding.u, finding.quantity) : "" }),
    element("td", { text: finding.limit.reference }),
    element("td", { text: alone ? records.shortOf(finding.id) : "" }),
  );
}
