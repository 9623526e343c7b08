// Elements of the page, and how often one is drawn anew.

// An element with attributes and children. Text is always set as text, never as markup.
export function element(tag, facts = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(facts)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "text") made.textContent = value;
    else if (name === "onclick") made.addEventListener("click", value);
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined && child !== ""));
  return made;
}

// A function that runs at most once a frame.
export function onceAFrame(work) {
  let waiting = false;
  return () => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      work();
    });
  };
}

export const byId = (id) => document.getElementById(id);
