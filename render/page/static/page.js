// The page: takes up the sitting, lays out wall and list, and wires what stands around them.

import { $, el, fileName, fill, saveAs, say } from "./parts.js";
import { canTakeBack, drawn, note, order, others, table, takeBack, takeUp, write } from "./sitting.js";
import { finer, lost, now, onPicture, post, redraw, watch } from "./easel.js";
import { relist, stock } from "./layers.js";
import { beside, endWipe, isWiping, keep, options, show as showKept, wipe, wireWipe } from "./kept.js";
import { showLamp, wireLamp } from "./lamp.js";

const CARD_IN = 85.6 / 25.4; // the width of an ID-1 card, ISO/IEC 7810
const trueSize = { on: false };

// --- the wall ---------------------------------------------------------------------------------------------------------

/** Size the board: all of the wall in the stage, or an inch of wall to an inch of screen. */
function fit() {
  const stage = $("stage");
  const { width, height } = $("wall");
  stage.classList.toggle("true", trueSize.on);
  const inches = now.figures ? width / now.figures.ppi : 0;
  const scale = trueSize.on && inches
    ? (inches * (table.cardPx / CARD_IN || 96)) / width
    : Math.min((stage.clientWidth - 8) / width, (stage.clientHeight - 8) / height);
  $("board").style.width = `${width * scale}px`;
  $("board").style.height = `${height * scale}px`;
}

function toggleTrue() {
  trueSize.on = !trueSize.on;
  $("true").setAttribute("aria-pressed", String(trueSize.on));
  $("true").textContent = trueSize.on ? "Whole wall" : "True size";
  $("truebar").hidden = !trueSize.on;
  table.cardPx ||= CARD_IN * 96;
  card();
  fit();
  if (trueSize.on) $("stage").scrollTo(($("board").clientWidth - $("stage").clientWidth) / 2, ($("board").clientHeight - $("stage").clientHeight) / 2);
  finer(trueSize.on);
}

function card() {
  $("card").max = 640;
  $("card").min = 160;
  $("card").value = table.cardPx;
  $("cardstrip").style.width = `${table.cardPx}px`;
  fill($("card"));
}

function pan(event) {
  if (!trueSize.on || isWiping() || event.pointerType !== "mouse") return;
  const stage = $("stage");
  const from = { x: event.clientX + stage.scrollLeft, y: event.clientY + stage.scrollTop };
  stage.setPointerCapture(event.pointerId);
  stage.onpointermove = moved => stage.scrollTo(from.x - moved.clientX, from.y - moved.clientY);
  stage.onpointerup = stage.onpointercancel = () => { stage.onpointermove = null; };
}

function told({ figures }) {
  if (!figures) return;
  const seen = figures.layers.filter(one => one.visible_share > 0.02).map(one => `${one.name} ${Math.round(100 * one.visible_share)}\u00a0%`);
  $("wall").setAttribute("aria-label", `${table.finish.name ?? "The wall"}, ${table.wall}, ${table.light}. Seen: ${seen.join(", ")}`);
  fit();
}

// --- changes from elsewhere -------------------------------------------------------------------------------------------

function tableChanged() {
  $("where").textContent = `${table.wall}  ·  ${table.light}  ·  pour ${table.pour}`;
  $("takeback").disabled = !canTakeBack();
  $("pourback").disabled = table.pour <= 1;
  showLamp();
}

function changed(make) {
  note();
  make();
  write();
  tableChanged();
  redraw();
}

async function back() {
  if (!canTakeBack()) return;
  takeBack();
  write();
  tableChanged();
  redraw();
  await relist();
  say("Taken back");
}

/** Put another finish on the table. */
async function begin(asked) {
  try {
    const found = await (await post("/layers", asked)).json();
    note();
    Object.assign(table, { finish: found.finish, off: [], open: "" });
    if (!table.finish.name) table.finish.name = found.name;
  } catch (error) {
    if (error.faults) showFaults(error.faults);
    return;
  }
  for (const drop of document.querySelectorAll("details.drop[open]")) drop.open = false;
  endWipe();
  write();
  tableChanged();
  redraw();
  await relist();
}

function showFaults(faults) {
  $("faults").hidden = false;
  $("faults").replaceChildren(...faults.map(text => el("p", {}, text)));
}

async function save(address, body, name, words) {
  say(`${words} is being made`);
  $("state").textContent = "making the file …";
  try {
    saveAs(await (await post(address, body)).blob(), name);
    say(`${words} is saved`);
  } catch (error) {
    if (error.faults) showFaults(error.faults);
  }
  $("state").textContent = "";
}

// --- start ------------------------------------------------------------------------------------------------------------

function wire() {
  $("takeback").onclick = back;
  $("pour").onclick = () => changed(() => { table.pour += 1; });
  $("pourback").onclick = () => changed(() => { table.pour -= 1; });
  $("keep").onclick = keep;
  $("true").onclick = toggleTrue;
  $("card").oninput = () => { table.cardPx = Number($("card").value); card(); write(); fit(); };
  $("stage").addEventListener("pointerdown", pan);
  $("name").onchange = () => { note(); table.finish.name = $("name").value.trim() || "finish"; write(); tableChanged(); redraw(); };
  $("savefile").onclick = () => save("/finish-file", { finish: drawn() }, fileName(table.finish.name, ".toml"), "The finish file");
  $("savesheet").onclick = () => save("/sheet", order(), fileName(table.finish.name, ".png"), "The picture");
  $("savekept").onclick = () => save("/comparison", { options: options() }, fileName(`${table.finish.name} comparison`, ".png"), "The comparison");
  $("beside").onclick = beside;
  $("besideclose").onclick = () => $("besidesheet").close();
  $("wipestart").onclick = () => wipe(table.kept.at(-2).letter, table.kept.at(-1).letter);
  $("own").onchange = async () => {
    const file = $("own").files[0];
    if (file) await begin({ toml: await file.text(), where: file.name });
    $("own").value = "";
  };
  document.addEventListener("tablechange", tableChanged);
  document.addEventListener("keydown", keys);
  document.addEventListener("click", event => {
    for (const drop of document.querySelectorAll("details.drop[open]")) if (!drop.contains(event.target)) drop.open = false;
  });
  new ResizeObserver(fit).observe($("stage"));
  addEventListener("pagehide", () => write(true));
}

function keys(event) {
  const writing = event.target.matches("input:not([type=range], [type=checkbox], [type=radio]), select");
  if ((event.ctrlKey || event.metaKey) && event.key === "z" && !writing) {
    event.preventDefault();
    back();
  }
  if (event.key !== "Escape") return;
  const open = document.querySelector("details.drop[open]");
  if (open) {
    open.open = false;
    open.querySelector("summary").focus();
  } else endWipe();
}

function offer(shipped) {
  $("shipped").replaceChildren(...shipped.map(one => el("li", {},
    el("button", { type: "button", onclick: () => begin({ shipped: one.id }) }, one.name, el("small", {}, one.summary)))));
  const before = others().filter(one => one.kept.length).slice(0, 6);
  $("sittings").replaceChildren(...(before.length ? [el("p", {}, "Earlier sittings with kept looks:")] : []),
    ...before.map(one => el("button", { type: "button", onclick: () => { write(true); location.search = `?sitting=${one.id}`; } },
      one.finish.name ?? "finish", el("small", {}, `${new Date(one.changed).toLocaleString()}, ${one.kept.length} kept`))));
}

async function start() {
  wire();
  wireLamp();
  wireWipe();
  let begun;
  try {
    begun = await (await post("/begin", {})).json();
  } catch {
    document.addEventListener("found", () => location.reload());
    return lost();
  }
  stock(begun);
  await takeUp(begun.opening);
  write(true);
  offer(begun.shipped);
  onPicture(told);
  showKept();
  tableChanged();
  redraw();
  watch();
  await relist();
  document.documentElement.dataset.ready = table.id;
}

start();
