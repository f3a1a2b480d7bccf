// What is on the table: finish, wall, pour, lamp and kept looks. It lives in this browser, one record for each sitting.
// A sitting belongs to one tab at a time: a second tab on the same address gets a copy under another name.

import { clone, nameOf } from "./parts.js";

const PREFIX = "finishboard.sitting.";
const MOST_SITTINGS = 12;
const MOST_STEPS = 60;

export const table = {
  id: "", begun: 0, finish: {}, off: [], wall: "4 ft x 4 ft", pour: 1, light: "", kept: [], cardPx: 0, open: "",
};
const steps = [];
let timer = 0;

const fresh = () => Array.from(crypto.getRandomValues(new Uint8Array(6)), b => b.toString(16).padStart(2, "0")).join("");

/** Take up this address's sitting, or begin one. Returns whether there was one. */
export async function takeUp(opening) {
  const asked = new URL(location.href).searchParams.get("sitting") ?? "";
  let id = /^[0-9a-f]{12}$/.test(asked) ? asked : fresh();
  const found = read(id);
  if (!(await claim(id))) {
    id = fresh();
    await claim(id);
  }
  Object.assign(table, { begun: Date.now(), ...opening, kept: [], off: [] }, found ?? {}, { id });
  history.replaceState(null, "", `?sitting=${id}`);
  sessionStorage.setItem("sitting", id);
  if (!found) forgetOldest();
  return Boolean(found);
}

/** Hold a sitting until this tab closes; false if another tab holds it. A reload waits for its own old page to let go. */
async function claim(id) {
  if (!navigator.locks) return true;
  const hold = options => new Promise(done => {
    navigator.locks.request(PREFIX + id, options, lock => {
      done(Boolean(lock));
      return lock ? new Promise(() => {}) : undefined;
    }).catch(() => done(false));
  });
  if (await hold({ ifAvailable: true })) return true;
  if (sessionStorage.getItem("sitting") !== id) return false;
  return hold({ signal: AbortSignal.timeout(700) });
}

function read(id) {
  try {
    const found = JSON.parse(localStorage.getItem(PREFIX + id));
    return found && typeof found.finish === "object" && Array.isArray(found.kept) ? found : null;
  } catch {
    return null;
  }
}

/** Write the sitting down soon; at once when asked. Returns false if the browser has no room. */
export function write(now = false) {
  clearTimeout(timer);
  if (!now) {
    timer = setTimeout(() => write(true), 150);
    return true;
  }
  try {
    localStorage.setItem(PREFIX + table.id, JSON.stringify({ ...table, changed: Date.now() }));
    return true;
  } catch {
    return false;
  }
}

/** Other sittings in this browser, newest first. */
export function others() {
  return Object.keys(localStorage)
    .filter(key => key.startsWith(PREFIX) && key !== PREFIX + table.id)
    .map(key => ({ id: key.slice(PREFIX.length), ...read(key.slice(PREFIX.length)) }))
    .filter(one => one.finish)
    .sort((a, b) => b.changed - a.changed);
}

function forgetOldest() {
  for (const one of others().filter(one => !one.kept.length).slice(MOST_SITTINGS)) localStorage.removeItem(PREFIX + one.id);
}

const now = () => clone({ finish: table.finish, off: table.off, wall: table.wall, pour: table.pour, light: table.light });

/** Note how things stand before a change, so that it can be taken back. Steps of one slider's drag count once. */
export function note(what = "") {
  const last = steps.at(-1);
  if (what && last?.what === what && Date.now() - last.at < 1500) {
    last.at = Date.now();
    return;
  }
  steps.push({ what, at: Date.now(), ...now() });
  if (steps.length > MOST_STEPS) steps.shift();
}

export const canTakeBack = () => steps.length > 0;

/** Put things back as they stood before the last change. */
export function takeBack() {
  const { what, at, ...before } = steps.pop() ?? now();
  Object.assign(table, before);
}

/** The finish as it is drawn: without the layers that are left out. */
export function drawn(finish = table.finish, off = table.off) {
  return { ...finish, layer: (finish.layer ?? []).filter(one => !off.includes(nameOf(one))) };
}

export const order = (from = table) => ({ finish: drawn(from.finish, from.off), wall: from.wall, pour: from.pour, light: from.light });
