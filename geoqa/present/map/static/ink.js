// Colours of the canvas in daylight, in the dark, and on paper; the page beside it takes them from its styles.

const LIGHT = { ink: "#14181c", line: "#4a5058", halo: "rgba(255, 255, 255, 0.92)", edge: "#ffffff", paper: "#ffffff", grid: "rgba(60, 70, 80, 0.13)", asbuilt: "#7a6a4f", unasked: "#85898f", band: 0.3 };
const DARK = { ink: "#f1f0ec", line: "#b6bcc4", halo: "rgba(22, 26, 31, 0.92)", edge: "#15191e", paper: "#22272d", grid: "rgba(220, 226, 232, 0.16)", asbuilt: "#cdb88f", unasked: "#8d949c", band: 0.34 };
const BRIGHT = { OUT: "#ff8f84", UNDECIDED: "#f2b24b", NO_DATA: "#aab2bc", IN: "#6cb8f0" };
export const colours = { ...LIGHT };
const dark = window.matchMedia("(prefers-color-scheme: dark)");
let about = null, printed = [], after = null;

export const isDark = () => dark.matches && !document.body.classList.contains("printing");

// Paper is light, whatever the screen is.
export function choose() {
  Object.assign(colours, isDark() ? DARK : LIGHT);
  about.verdicts.forEach((sign, code) => (sign.colour = (isDark() && BRIGHT[sign.verdict]) || printed[code]));
  for (const { verdict, colour } of about.verdicts) document.documentElement.style.setProperty(`--v-${verdict}`, colour);
  after?.();
}

export function begin(allAbout, redraw) {
  about = allAbout;
  printed = about.verdicts.map(({ colour }) => colour);
  choose();
  after = redraw;
  dark.addEventListener("change", choose);
}
