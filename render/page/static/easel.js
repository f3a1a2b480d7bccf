// Asks for pictures: a draft while something moves, the full picture when it rests. What is overtaken is called off.

import { $, say } from "./parts.js";
import { order } from "./sitting.js";

const REST_MS = 80;
const FINE_MS = 900;
const LONG_MS = 450;
const tab = Array.from(crypto.getRandomValues(new Uint8Array(8)), b => b.toString(16).padStart(2, "0")).join("");
let number = 0;
let answered = 0;
let change = 0;
let drawnChange = -1;
let busy = false;
let rest = 0;
let waiting = null;
let isLost = false;
const told = [];

export const now = { figures: null, bitmap: null, quality: "", fine: false };

/** Call when a new picture, or faults instead of one, have come: f({figures} or {faults}). */
export const onPicture = f => told.push(f);

/** Post JSON; throws {faults} for what the server refuses, and calls the server lost when there is no answer. */
export async function post(address, body, signal) {
  let answer;
  try {
    answer = await fetch(address, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body), signal });
  } catch (error) {
    if (error.name !== "AbortError") lost();
    throw error;
  }
  if (answer.status === 409) throw { overtaken: true };
  if (answer.status === 422 || answer.status === 500) throw { faults: (await answer.json()).faults };
  if (!answer.ok) throw { faults: [await answer.text()] };
  return answer;
}

/** Read figures and picture out of one answer. */
export async function picture(asked, signal) {
  const packed = await (await post("/picture", asked, signal)).arrayBuffer();
  const size = new DataView(packed).getUint32(0);
  const figures = JSON.parse(new TextDecoder().decode(new Uint8Array(packed, 4, size)));
  const bitmap = await createImageBitmap(new Blob([new Uint8Array(packed, 4 + size)], { type: "image/jpeg" }));
  return { figures, bitmap };
}

export function paint(canvas, bitmap) {
  if (canvas.width !== bitmap.width || canvas.height !== bitmap.height) {
    canvas.width = bitmap.width;
    canvas.height = bitmap.height;
  }
  canvas.getContext("2d", { alpha: false }).drawImage(bitmap, 0, 0);
}

/** Something on the table has changed: draw it. */
export function redraw() {
  change += 1;
  document.documentElement.dataset.change = change;
  document.dispatchEvent(new Event("redraw"));
  clearTimeout(rest);
  waiting?.abort();
  pump();
}

async function pump() {
  if (busy) return;
  busy = true;
  while (drawnChange !== change && !isLost) {
    const at = change;
    if (await get("draft", at)) drawnChange = at;
  }
  busy = false;
  if (!isLost) rest = setTimeout(finish, REST_MS);
}

async function finish() {
  const at = change;
  state("drawing …");
  waiting = new AbortController();
  if (!(await get("settled", at, waiting.signal)) || at !== change || !now.fine) return;
  await new Promise(done => setTimeout(done, FINE_MS));
  if (at === change) get("fine", at, waiting.signal);
}

/** Draw in true size: finer than the whole wall needs. */
export function finer(on) {
  now.fine = on;
  if (on && !busy && now.quality !== "fine") rest = setTimeout(finish, REST_MS);
}

/** Fetch and show one picture; true if it or its faults were shown. */
async function get(quality, at, signal) {
  number += 1;
  const asked = number;
  const waited = quality === "fine" ? 0 : setInterval(() => laying(asked), LONG_MS);
  try {
    const got = await picture({ ...order(), tab, number, quality }, signal).finally(() => { clearInterval(waited); answered = asked; });
    if (quality !== "draft" && at !== change) return false;
    show(got, quality, at);
    return true;
  } catch (error) {
    if (error.faults && at === change) {
      state("");
      if (quality !== "fine") told.forEach(f => f({ faults: error.faults }));
      document.documentElement.dataset.painted = `${at} faults`;
    } else if (!error.overtaken && error.name !== "AbortError" && !isLost && !error.faults) {
      lost();
    }
    return Boolean(error.faults);
  }
}

/** Long work says which layer it is at. */
async function laying(asked) {
  try {
    const at = await (await post("/progress", { tab })).json();
    if (at.of && asked > answered) state(`laying ${at.name}, ${at.number} of ${at.of}`);
  } catch { /* the picture's own request will tell */ }
}

function show(got, quality, at) {
  if (!document.documentElement.dataset.wipe) paint($("wall"), got.bitmap);
  now.bitmap?.close?.();
  Object.assign(now, { figures: got.figures, bitmap: got.bitmap, quality });
  state(quality === "draft" ? "draft" : "");
  told.forEach(f => f({ figures: got.figures }));
  // After the next frame is on the screen; tests and measurements wait for this.
  requestAnimationFrame(() => setTimeout(() => {
    document.documentElement.dataset.painted = `${at} ${quality}`;
    document.dispatchEvent(new CustomEvent("painted", { detail: { change: at, quality, at: performance.now(), seconds: got.figures.seconds } }));
  }));
}

/** Wait until what is on the table is what is shown. */
export function whenDrawn() {
  return new Promise(done => {
    const look = () => (drawnChange === change && !busy ? done() : setTimeout(look, 40));
    look();
  });
}

function state(text) {
  $("state").textContent = text;
}

/** No answer: say so, and go on when it comes back. */
export function lost() {
  if (isLost) return;
  isLost = true;
  state("");
  $("lost").hidden = false;
  document.documentElement.dataset.lost = "yes";
  seek();
}

async function seek() {
  if (await alive()) {
    isLost = false;
    $("lost").hidden = true;
    delete document.documentElement.dataset.lost;
    say("The program answers again.");
    document.dispatchEvent(new Event("found"));
    redraw();
  } else setTimeout(seek, 1500);
}

async function alive() {
  try {
    return (await (await fetch("/alive", { cache: "no-store" })).text()) === "finishboard";
  } catch {
    return false;
  }
}

export function watch() {
  setInterval(async () => { if (!isLost && !document.hidden && !(await alive())) lost(); }, 3000);
}

