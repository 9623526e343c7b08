// What the reader looks at now: one thing, the same in list, map and profile.

const listeners = [];
let current = null;

export const now = () => current;
export const onSelect = (listener) => listeners.push(listener);

// A target as the cards know it, or null when nothing is open.
export function select(target) {
  current = target;
  for (const listener of listeners) listener(target);
}
