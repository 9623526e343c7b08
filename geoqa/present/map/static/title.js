// Title block, cautions, what must be known first, and the counts that are also switches.
import * as choice from "./choice.js";
import { byId, element } from "./elements.js";
import { ofVerdict } from "./icon.js";
import * as records from "./records.js";
import * as words from "./words.js";

export function begin(tables, about) {
  const { title } = about;
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
  notes([...about.notes, ...title.notes.map((text) => [text, ""])]);
  sources(about.sources);
  tiles(about);
  filters(tables);
}

function notes(texts) {
  if (!texts.length) return;
  byId("notes").hidden = false;
  byId("notes-title").textContent = `Read first: ${words.many(texts.length, "note")}`;
  byId("notes-list").append(...texts.map(note));
}

// One sentence; what stands behind it opens. Paper prints all of it.
function note([text, more]) {
  if (!more) return element("li", { text });
  const behind = element("details", {}, element("summary", { text: "More" }), ` ${more}`);
  return element("li", { "data-whole": `${text} ${more}` }, text, behind);
}

function sources(rows) {
  if (!rows.length) return;
  byId("files").hidden = false;
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

// Counts of what is reported, worst first; pressing one hides or shows it.
function tiles(about) {
  const holder = byId("tiles");
  const codes = about.verdicts.map((_, code) => code).sort((a, b) => about.verdicts[a].order - about.verdicts[b].order);
  for (const code of codes) {
    const verdict = about.verdicts[code];
    const title = `Findings ${verdict.text}, a run of shots as one: press to hide or show`;
    const button = element(
      "button", { type: "button", class: "tile", "aria-pressed": "true", title },
      ofVerdict(verdict, 18),
      element("span", { class: "tile-count", text: (about.reported[verdict.verdict] ?? 0).toLocaleString("en-US") }),
      element("span", { class: "tile-name", text: verdict.short }),
    );
    button.addEventListener("click", () => {
      choice.change(({ verdicts }) => (verdicts.has(code) ? verdicts.delete(code) : verdicts.add(code)));
      button.setAttribute("aria-pressed", String(choice.state.verdicts.has(code)));
    });
    holder.append(button);
  }
}

function filters(tables) {
  const kinds = records.allKinds().filter(Boolean).sort();
  const checks = tables.findings.texts("check");
  fill("filter-kind", kinds, words.kind, (state, value) => (state.kind = value));
  fill("filter-check", checks, words.checkTitle, (state, value) => (state.check = value));
}

function fill(id, values, textOf, work) {
  const select = byId(id);
  select.append(...values.map((value) => element("option", { value, text: textOf(value) })));
  select.addEventListener("change", () => choice.change((state) => work(state, select.value)));
}
