// Kept looks: small pictures with shares and price, side by side, and one wiped across another.

import { $, clone, el, fill, forWall, nameOf, percent, priceWords, say, volume, withoutPrice } from "./parts.js";
import { note, order, table, write } from "./sitting.js";
import { lost, now, paint, picture, redraw, whenDrawn } from "./easel.js";
import { relist } from "./layers.js";

const MOST = 8;
const SMALL = 360;
const FIELDS = ["finish", "off", "wall", "pour", "light"];
const drawnLooks = new Map();

const find = letter => table.kept.find(one => one.letter === letter);

/** Keep what is on the table under the next letter. */
export async function keep() {
  await whenDrawn();
  const letter = "ABCDEFGH".split("").find(one => !find(one));
  if (!letter) return say(`${MOST} looks are kept; let one go first`);
  if (!now.figures || !$("faults").hidden) return say("There is no picture to keep");
  const look = { letter, small: small(), figures: now.figures, ...clone(Object.fromEntries(FIELDS.map(key => [key, table[key]]))) };
  table.kept = [...table.kept, look];
  if (!write(true)) {
    table.kept = table.kept.slice(0, -1);
    write(true);
    return say("The browser has no room for another look; let one go first");
  }
  show();
  say(`Kept as ${letter}`);
}

function small() {
  const from = $("wall");
  const scale = SMALL / Math.max(from.width, from.height);
  const to = el("canvas", { width: Math.round(from.width * scale), height: Math.round(from.height * scale) });
  const pen = to.getContext("2d");
  pen.imageSmoothingQuality = "high";
  pen.drawImage(from, 0, 0, to.width, to.height);
  return to.toDataURL("image/jpeg", 0.86);
}

export function show() {
  $("nokept").hidden = table.kept.length > 0;
  $("keptacts").hidden = table.kept.length < 2;
  $("savekept").disabled = !table.kept.length;
  $("keep").disabled = table.kept.length >= MOST;
  $("keptlist").replaceChildren(...table.kept.map(card));
}

const isPicture = text => typeof text === "string" && text.startsWith("data:image/jpeg;base64,");

function card(look) {
  const name = look.finish.name ?? "";
  return el("li", { class: "look", data: { letter: look.letter } },
    el("img", { src: isPicture(look.small) ? look.small : "", alt: `Look ${look.letter}: ${name}` }),
    el("div", { class: "line" }, el("span", {}, el("span", { class: "letter" }, look.letter), `pour ${look.pour}`), el("span", {}, `${priceWords(look.figures)}/ft²`)),
    stack(look),
    el("div", { class: "acts" },
      el("button", { type: "button", "aria-label": `Take up look ${look.letter}`, onclick: () => takeUp(look) }, "Take up"),
      el("button", { type: "button", "aria-label": `Let go of look ${look.letter}`, onclick: () => letGo(look) }, "Let go")));
}

/** The shares of what one sees, as one strip in the layers' colours. */
function stack(look) {
  const seen = look.figures.layers.filter(one => one.visible_share > 0.004);
  const words = seen.map(one => `${one.name} ${percent(one.visible_share)}`).join(", ");
  return el("div", { class: "stack", role: "img", "aria-label": words, title: words },
    ...seen.map(one => el("i", { style: { width: `${100 * one.visible_share}%`, background: one.colour ?? "transparent" } })));
}

async function takeUp(look) {
  note();
  Object.assign(table, clone(Object.fromEntries(FIELDS.map(key => [key, look[key]]))));
  write();
  endWipe();
  document.dispatchEvent(new Event("tablechange"));
  redraw();
  await relist();
  say(`Look ${look.letter} is on the table`);
}

function letGo(look) {
  table.kept = table.kept.filter(one => one !== look);
  write(true);
  endWipe();
  show();
  say(`Let go of look ${look.letter}`);
}

/** Kept looks as the server wants them for a sheet. */
export const options = () => table.kept.map(look => ({ ...order(look), label: `${look.letter}  ${look.finish.name ?? ""}` }));

// --- side by side -----------------------------------------------------------------------------------------------------

export function beside() {
  const looks = table.kept;
  const line = (label, cell, differs) => el("tr", { class: differs && new Set(looks.map(differs)).size > 1 ? "changed" : "" },
    el("th", { scope: "row" }, label), ...looks.map(look => el("td", {}, ...[cell(look)].flat())));
  const text = key => look => String(key(look));
  const head = el("thead", {}, el("tr", {}, el("td"), ...looks.map(look => el("th", { scope: "col" },
    el("img", { src: isPicture(look.small) ? look.small : "", alt: `Look ${look.letter}` }), el("h3", {}, `${look.letter}  ${look.finish.name ?? ""}`)))));
  const price = look => priceWords(look.figures);
  const rows = [
    ...differing(looks).map(([label, values]) => line(label, look => values.get(look), look => values.get(look))),
    line("materials per ft²", text(price), price),
    line("for this wall", look => [forWall(look.figures), withoutPrice(look.figures)].filter(Boolean).map(one => el("div", {}, one))),
    line("seen", look => look.figures.layers.filter(one => one.visible_share >= 0.005).map(one =>
      el("div", { class: "share", style: { "border-color": one.colour ?? "#8b8074" } }, el("span", {}, one.name), el("span", {}, percent(one.visible_share))))),
    line("light reflected", text(look => `LRV ${Math.round(look.figures.lrv)}`), look => Math.round(look.figures.lrv)),
    line("lamp", text(look => look.light), look => look.light),
    line("pour", text(look => look.pour), look => look.pour),
    line("materials", look => look.figures.materials.filter(one => one.gal > 0).map(one => el("div", {}, `${one.name}: ${volume(one.gal)}`))),
  ];
  $("besidetable").replaceChildren(el("table", { style: { "--looks": looks.length } }, head, el("tbody", {}, ...rows)));
  $("besidesheet").showModal();
}

/** Keys of layers that are not the same in all looks, with each look's value. */
function differing(looks) {
  const found = new Map();
  for (const look of looks) {
    for (const layer of look.finish.layer ?? []) {
      const name = nameOf(layer);
      put(found, name, look, look.off.includes(name) ? "left out" : "on the wall");
      for (const [key, value] of Object.entries(layer)) {
        if (key !== "name" && key !== "kind") put(found, `${name}: ${key.replaceAll("_", " ")}`, look, words(value));
      }
    }
  }
  return [...found].filter(([, values]) => new Set(looks.map(look => values.get(look) ?? "")).size > 1)
    .map(([label, values]) => [label, new Map(looks.map(look => [look, values.get(look) ?? "–"]))]);
}

function put(found, label, look, value) {
  if (!found.has(label)) found.set(label, new Map());
  found.get(label).set(look, value);
}

const words = value => typeof value === "object" ? Object.entries(value).map(([key, one]) => `${one} ${key}`).join(" + ") : String(value);

// --- wipe -------------------------------------------------------------------------------------------------------------

/** Lay one look over another on the stage; the edge between them follows pointer, touch and keys. */
export async function wipe(left, right) {
  const pick = [["wipeleft", left], ["wiperight", right]];
  for (const [id, chosen] of pick) {
    $(id).replaceChildren(el("option", { value: "" }, "now"), ...table.kept.map(one => el("option", { value: one.letter, selected: one.letter === chosen }, one.letter)));
    $(id).value = chosen;
  }
  $("wipebar").hidden = false;
  document.dispatchEvent(new Event("tablechange"));
  try {
    await Promise.all([layer("over", left), layer("wall", right)]);
  } catch (error) {
    if (!error.faults) lost();
    return endWipe();
  }
  $("over").hidden = $("edge").hidden = false;
  $("board").classList.add("wiping");
  at(Number($("wipe").value));
  document.documentElement.dataset.wipe = `${left || "now"} ${right || "now"}`;
}

async function layer(canvas, letter) {
  const look = letter ? find(letter) : table;
  const asked = { ...order(look), quality: "settled", tab: `wipe ${letter} ${table.id}`, number: 0 };
  const key = JSON.stringify(asked);
  if (!drawnLooks.has(key)) drawnLooks.set(key, (await picture(asked)).bitmap);
  paint($(canvas), drawnLooks.get(key));
  while (drawnLooks.size > MOST) drawnLooks.delete(drawnLooks.keys().next().value);
}

export const isWiping = () => !$("wipebar").hidden;

export function endWipe() {
  if (!isWiping()) return;
  $("wipebar").hidden = $("over").hidden = $("edge").hidden = true;
  $("board").classList.remove("wiping");
  delete document.documentElement.dataset.wipe;
  if (now.bitmap) paint($("wall"), now.bitmap);
  document.dispatchEvent(new Event("tablechange"));
}

function at(part) {
  $("wipe").value = part;
  fill($("wipe"));
  $("over").style.clipPath = `inset(0 ${100 - part}% 0 0)`;
  $("edge").style.left = `${part}%`;
}

export function wireWipe() {
  document.addEventListener("redraw", endWipe);
  $("wipe").oninput = () => at(Number($("wipe").value));
  $("wipeleft").onchange = $("wiperight").onchange = () => wipe($("wipeleft").value, $("wiperight").value);
  $("wipeend").onclick = () => { endWipe(); $("wipestart").focus(); };
  const board = $("board");
  const follow = event => {
    const box = board.getBoundingClientRect();
    at(Math.min(100, Math.max(0, (100 * (event.clientX - box.left)) / box.width)));
  };
  board.addEventListener("pointerdown", event => {
    if (!board.classList.contains("wiping")) return;
    event.preventDefault();
    board.setPointerCapture(event.pointerId);
    follow(event);
  });
  board.addEventListener("pointermove", event => {
    if (board.classList.contains("wiping") && board.hasPointerCapture(event.pointerId)) follow(event);
  });
}
