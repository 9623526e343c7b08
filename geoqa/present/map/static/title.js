// Title block, cautions, what must be known first, and the table of questions whose heads are switches.
import { typed } from "./baseline.js";
import * as choice from "./choice.js";
import { byId, element } from "./elements.js";
import { ofVerdict } from "./icon.js";
import * as records from "./records.js";
import * as words from "./words.js";

let asked = [];

export function begin(tables, about) {
  const { title } = about;
  asked = about.overview;
  const line = (id, text) => {
    byId(id).textContent = text;
    byId(id).hidden = !text;
  };
  line("job-name", title.name);
  line("job-revision", [title.revision, title.date, title.client].filter(Boolean).join(" · "));
  line("headline", title.headline);
  line("job-frame", title.frame);
  line("preliminary", title.preliminary);
  line("reviewed", title.reviewed);
  line("buried", about.buried);
  line("caution", title.caution);
  first(about);
  control(about.control);
  line("changes-text", about.changes);
  byId("changes").hidden = !about.changes;
  notes([...about.notes, ...title.notes.map((text) => [text, ""])]);
  sources(about.sources, title);
  filters(tables);
}

function notes(texts) {
  if (!texts.length) return;
  byId("notes").hidden = false;
  byId("notes-title").textContent = words.many(texts.length, "note");
  byId("notes-list").append(...texts.map(note));
}

// One sentence; what stands behind it opens. Paper prints all of it.
function note([text, more]) {
  if (!more) return element("li", { text });
  const behind = element("details", {}, element("summary", { text: "More" }), ` ${more}`);
  return element("li", { "data-whole": `${text} ${more}` }, text, behind);
}

// The questions of a reader with their counts; pressing one lists and draws what answers it.
function first(about) {
  if (!about.overview.length) return;
  byId("overview").hidden = false;
  const signs = [...about.verdicts].sort((a, b) => a.order - b.order);
  byId("overview-head").append(element("tr", {}, element("th", { scope: "col", text: "Question" }), ...signs.map((sign) => element("th", { scope: "col" }, tile(sign, about.verdicts.indexOf(sign))))));
  const count = (row, verdict) => element("td", { class: row[verdict] && verdict === "OUT" ? "some" : "", text: row[verdict].toLocaleString("en-US") });
  byId("overview-rows").append(...about.overview.map((row) => {
    const button = element("button", { type: "button", class: "question", "aria-pressed": "false", text: row.text });
    button.addEventListener("click", () => choice.change((state) => (state.question = state.question === row.name ? "" : row.name)));
    choice.onChange(({ question }) => button.setAttribute("aria-pressed", String(question === row.name)));
    return element("tr", {}, element("th", { scope: "row" }, button), ...signs.map(({ verdict }) => count(row, verdict)));
  }));
}

// Residuals at control, measured minus published, by mark and session.
function control(table) {
  if (!table) return;
  byId("control").hidden = false;
  const heads = ["Mark", "Session", "Shots", "dE", "dN", "dElev", "Left out"];
  byId("control-body").append(
    element("p", { text: table.limits }),
    element(
      "table", {},
      element("thead", {}, element("tr", {}, ...heads.map((text) => element("th", { scope: "col", text })))),
      element("tbody", {}, ...table.rows.map((cells) => element("tr", {}, ...cells.map((text) => element("td", { text }))))),
    ),
    ...table.sessions.map((text) => element("p", { text })),
  );
}

function sources(rows, title) {
  byId("files").hidden = !rows.length && !title.frame;
  byId("job-datum").textContent = title.frame;
  byId("files-list").append(
    ...rows.map(({ path, role, sha256 }) =>
      element(
        "li", {},
        element("b", { text: path }), ` ${role}`,
        sha256 ? element("code", { text: ` sha256 ${sha256.slice(0, 12)}` }) : null,
      ),
    ),
  );
}

// The head of a column of counts, which hides or shows what it counts; places are counted of what is out, numbers of the rest.
function tile(verdict, code) {
  const out = verdict.verdict === "OUT", title = `${words.capital(verdict.text)}: press to hide or show`;
  const button = element(
    "button", { type: "button", class: "tile", "aria-pressed": "true", title },
    ofVerdict(verdict, 12), element("span", { text: out ? "places" : verdict.short }), out ? element("span", { class: "unseen", text: ` ${verdict.short}` }) : null,
  );
  button.addEventListener("click", () => {
    choice.change(({ verdicts }) => (verdicts.has(code) ? verdicts.delete(code) : verdicts.add(code)));
    button.setAttribute("aria-pressed", String(choice.state.verdicts.has(code)));
  });
  return button;
}

function filters(tables) {
  const kinds = records.allKinds().filter(Boolean).sort();
  const checks = tables.findings.texts("check");
  fill("filter-kind", kinds, words.kind, "kind");
  fill("filter-check", checks, words.checkTitle, "check");
  fill("filter-session", tables.shots.texts("session").slice().sort(), (name) => name, "session");
  for (const end of ["from", "to"]) {
    byId(`filter-${end}`).addEventListener("change", ({ target }) => {
      target.setAttribute("aria-invalid", String(target.value.trim() !== "" && typed(target.value) === null));
      choice.change((state) => (state[end] = typed(target.value)));
    });
  }
  byId("filter-clear").addEventListener("click", () => {
    for (const each of byId("filters").querySelectorAll("select, input")) each.value = "";
    choice.change((state) => Object.assign(state, { kind: "", check: "", question: "", session: "", from: null, to: null }));
  });
  choice.onChange(told);
}

function fill(id, values, textOf, name) {
  const select = byId(id);
  select.append(...values.map((value) => element("option", { value, text: textOf(value) })));
  select.addEventListener("change", () => choice.change((state) => (state[name] = select.value)));
}

// What is chosen, in words, while anything is: the counts beside it go on being those of the whole job.
function told({ kind, check, question, session, from, to }) {
  const row = asked.find(({ name }) => name === question);
  const stations = [from !== null ? `from ${words.station(from)}` : "", to !== null ? `to ${words.station(to)}` : ""].filter(Boolean).join(" ");
  const said = [row?.text, kind && words.kind(kind), check && words.checkTitle(check), session && `session ${session}`, stations].filter(Boolean);
  byId("filtered").hidden = !said.length;
  byId("filter-kind").value = kind; // a kind may be chosen elsewhere
  byId("filtered-text").textContent = `Shown: ${said.join(", ")}.`;
}
