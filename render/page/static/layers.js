// The layer list as the control: each layer opens to the amounts that its own model has.

import { $, clone, el, fill, forWall, nameOf, percent, priceWords, say, tidy, volume, withoutPrice } from "./parts.js";
import { note, table, write } from "./sitting.js";
import { onPicture, post, redraw } from "./easel.js";

let shelf = {};
let colourants = {};
let known = null; // the last answer to /layers
const rows = new Map();

export function stock(given) {
  shelf = given.shelf;
  colourants = given.colourants;
  offerKinds(given.starters);
}

const entries = () => (table.finish.layer ??= []);
const entryOf = name => entries().find(one => nameOf(one) === name);
const isOff = name => table.off.includes(name);

/** Read the finish again and lay out its list. Returns false, with the faults shown, if it cannot be read. */
export async function relist() {
  try {
    known = await (await post("/layers", { finish: table.finish, where: table.finish.name })).json();
  } catch (error) {
    if (error.faults) told({ faults: error.faults });
    return false;
  }
  layOut();
  return true;
}

function layOut() {
  const holder = $("layers");
  const focus = document.activeElement?.id;
  rows.clear();
  holder.replaceChildren(...known.layers.map(row));
  $("summary").textContent = known.summary;
  tellWhere();
  $("name").value = table.finish.name ?? known.name;
  document.title = `${known.name} – finishboard`;
  if (focus) $(focus)?.focus();
}

/** A change of the table: note it for taking back, make it, write it down, draw it. */
function change(what, make, again = false) {
  note(what);
  make();
  write();
  redraw();
  document.dispatchEvent(new Event("tablechange"));
  if (again) return relist();
}

// --- rows -------------------------------------------------------------------------------------------------------------

function row(layer, at) {
  const name = layer.name;
  const id = `layer${at}`;
  const dot = el("span", { class: "dot none" });
  const facts = el("span", { class: "facts" }, layer.words);
  const seen = el("span", { class: "seen" });
  const shown = el("span", { class: "shown", "aria-hidden": "true" });
  const open = el("button", { type: "button", class: "open", id: `${id}open`, "aria-expanded": table.open === name, "aria-controls": `${id}body`,
    title: "Alt with the arrow keys moves it" }, dot, el("span", { class: "who" }, name), seen, facts);
  const grip = el("button", { type: "button", class: "grip", tabIndex: -1, "aria-hidden": "true", title: "Drag to lay it earlier or later" }, String(at + 1));
  const on = el("input", { type: "checkbox", checked: !isOff(name), id: `${id}on`, "aria-label": `${name} is on the wall` });
  const body = el("div", { class: "body", id: `${id}body`, hidden: table.open !== name });
  const item = el("li", { class: "layer", data: { name } },
    el("div", { class: "row" }, grip, open, el("label", { class: "on", title: "On the wall" }, on)), body, shown);
  item.classList.toggle("off", isOff(name));
  rows.set(name, { item, dot, facts, seen, shown });
  open.onclick = () => toggle(name, open, body, layer, at);
  open.onkeydown = event => {
    if (event.altKey && ["ArrowUp", "ArrowDown"].includes(event.key)) {
      event.preventDefault();
      move(name, event.key === "ArrowUp" ? -1 : 1);
    }
  };
  on.onchange = () => change("", () => {
    table.off = on.checked ? table.off.filter(one => one !== name) : [...table.off, name];
    item.classList.toggle("off", !on.checked);
    say(`${name} is ${on.checked ? "on the wall" : "left out"}`);
  });
  grip.onpointerdown = event => drag(event, item, name);
  if (table.open === name) fillBody(body, layer, at);
  return item;
}

function toggle(name, open, body, layer, at) {
  const opening = body.hidden;
  for (const other of $("layers").querySelectorAll(".body:not([hidden])")) {
    other.hidden = true;
    other.replaceChildren();
    other.parentElement.querySelector(".open").setAttribute("aria-expanded", "false");
  }
  body.hidden = !opening;
  open.setAttribute("aria-expanded", String(opening));
  table.open = opening ? name : "";
  if (opening) fillBody(body, layer, at);
  tellWhere();
  write();
}

const FIRST = ["coverage", "spread", "dose", "thin", "colourants", "paint", "style", "method", "body", "amount", "film", "crack_size", "loss", "depth", "lift"];

function fillBody(body, layer, at) {
  const made = layer.controls.map(one => [one, control(layer, one, `layer${at}-${one.key}`)]).filter(([, node]) => node);
  const most = made.length <= 6 ? made.length : 0;
  const first = made.filter(([one], i) => i < most || FIRST.includes(one.key));
  const later = made.filter(one => !first.includes(one)).map(([, node]) => node);
  const last = known.layers.length - 1;
  body.replaceChildren(
    ...(layer.note ? [el("p", { class: "note" }, layer.note)] : []),
    ...first.map(([, node]) => node),
    ...(later.length ? [el("details", { class: "more" }, el("summary", {}, "The hand and the tool"), el("div", {}, ...later))] : []),
    el("div", { class: "moves" },
      el("button", { type: "button", id: `layer${at}earlier`, disabled: at === 0, onclick: () => move(layer.name, -1) }, "Lay it earlier"),
      el("button", { type: "button", id: `layer${at}later`, disabled: at === last, onclick: () => move(layer.name, 1) }, "Lay it later"),
      el("button", { type: "button", id: `layer${at}remove`, onclick: () => remove(layer.name) }, "Remove")),
  );
}

// --- more and fewer ---------------------------------------------------------------------------------------------------

/** Lay out the kinds that can be added, by what they are. */
function offerKinds(starters) {
  const groups = new Map(starters.map(one => [one.group, []]));
  for (const one of starters) {
    groups.get(one.group).push(el("li", {}, el("button", { type: "button", data: { kind: one.kind }, onclick: () => add(one) },
      one.kind.replaceAll("_", " "), el("small", {}, one.about))));
  }
  $("addkinds").replaceChildren(...[...groups].flatMap(([group, inside]) => [el("h3", {}, group), el("ul", { class: "plain" }, ...inside)]));
}

const opened = () => entries().findIndex(one => nameOf(one) === table.open);

function tellWhere() {
  const at = opened();
  $("addwhere").textContent = at < 0 ? "It is laid last. Open a layer to lay it after that one." : `It is laid after “${table.open}”.`;
}

async function add(starter) {
  const plain = starter.kind.replaceAll("_", " ");
  let name = plain;
  for (let n = 2; entryOf(name); n += 1) name = `${plain} ${n}`;
  const at = opened() < 0 ? entries().length : opened() + 1;
  $("adder").open = false;
  await change("", () => {
    entries().splice(at, 0, { ...clone(starter.entry), name });
    table.open = name;
  }, true);
  say(`${name} is now layer ${at + 1} of ${entries().length}`);
  $(`layer${at}open`)?.focus();
}

async function remove(name) {
  const at = entries().findIndex(one => nameOf(one) === name);
  await change("", () => {
    entries().splice(at, 1);
    table.off = table.off.filter(one => one !== name);
    table.open = "";
  }, true);
  say(`${name} is removed; Take back brings it back`);
  $(`layer${Math.min(at, entries().length - 1)}open`)?.focus();
}

// --- order ------------------------------------------------------------------------------------------------------------

function move(name, by) {
  const from = entries().findIndex(one => nameOf(one) === name);
  place(name, from + by, true);
}

async function place(name, to, focus) {
  const list = entries();
  const from = list.findIndex(one => nameOf(one) === name);
  if (to < 0 || to >= list.length || to === from) return;
  await change("", () => list.splice(to, 0, list.splice(from, 1)[0]), true);
  say(`${name} is now layer ${to + 1} of ${list.length}`);
  if (focus) $(`layer${to}open`)?.focus();
}

function drag(event, item, name) {
  event.preventDefault();
  const holder = $("layers");
  const start = event.clientY;
  const grip = event.currentTarget;
  const items = [...holder.children];
  const from = items.indexOf(item);
  const middles = items.map(one => one.firstChild.getBoundingClientRect()).map(box => box.top + box.height / 2);
  let to = from;
  grip.setPointerCapture(event.pointerId);
  item.classList.add("held");
  const onMove = moved => {
    item.style.transform = `translateY(${moved.clientY - start}px)`;
    to = middles.filter((middle, i) => i !== from && middle < moved.clientY).length;
  };
  const onUp = () => {
    grip.removeEventListener("pointermove", onMove);
    item.classList.remove("held");
    item.style.transform = "";
    place(name, to, false);
  };
  grip.addEventListener("pointermove", onMove);
  grip.addEventListener("pointerup", onUp, { once: true });
  grip.addEventListener("pointercancel", () => { to = from; onUp(); }, { once: true });
}

// --- controls ---------------------------------------------------------------------------------------------------------

function control(layer, about, id) {
  const make = { amount, number: amount, choice, switch: toggleKey, colour, paint, material, recipe }[about.type];
  return make ? make(layer, about, id) : null;
}

const set = (layer, key, value) => change(`${layer.name}.${key}`, () => {
  const entry = entryOf(layer.name);
  const { measured_at: measuredAt } = layer.controls.find(one => one.key === key) ?? {};
  if (measuredAt) entry.spread_at ??= entry.coverage ?? measuredAt;
  entry[key] = value;
});

function framed(about, id, ...inside) {
  const help = about.help ? el("p", { class: "help", id: `${id}-help` }, about.help) : null;
  return el("div", { class: "control" }, ...inside, help);
}

function amount(layer, about, id) {
  const write = number => {
    about.value = Number(number);
    about.unset = false;
    if (about.type === "number") return set(layer, about.key, about.value);
    set(layer, about.key, words(about, number));
    held.textContent = holds(about);
  };
  const range = el("input", { type: "range", id, min: Math.min(about.low, about.value), max: Math.max(about.high, about.value), step: about.step,
    value: about.value, "aria-describedby": about.help ? `${id}-help` : undefined, data: { layer: layer.name, key: about.key } });
  const box = el("input", { type: "text", inputMode: "decimal", value: String(about.value), "aria-label": `${about.label}, ${about.unit ?? ""}` });
  const held = el("p", { class: "help held" }, holds(about));
  range.setAttribute("aria-valuetext", `${range.value} ${about.unit ?? ""}`);
  fill(range);
  range.oninput = () => {
    box.value = tidy(Number(range.value), about.step);
    range.setAttribute("aria-valuetext", `${box.value} ${about.unit ?? ""}`);
    fill(range);
    write(box.value);
  };
  box.onchange = () => {
    const asked = Number(box.value.replace(",", "."));
    const least = about.least ?? about.low, most = about.most ?? (about.type === "number" ? about.high : Infinity);
    const number = Number.isFinite(asked) && box.value.trim() ? Math.min(most, Math.max(least, asked)) : about.value;
    box.value = String(number);
    range.max = Math.max(Number(range.max), number);
    range.min = Math.min(Number(range.min), number);
    range.value = number;
    fill(range);
    write(String(number));
  };
  const number = el("span", { class: "amount" }, box, el("span", {}, unitWords(about.unit)));
  return framed(about, id, el("div", { class: "set" }, el("label", { htmlFor: id }, about.label), number, range), held);
}

/** Write a number with its unit; a range keeps its proportions. */
function words(about, number) {
  if (!about.ranged) return `${number} ${about.unit}`;
  const [low, high] = ends(about, Number(number));
  return `${low}-${high} ${about.unit}`;
}

const spreads = new WeakMap();
function ends(about, number) {
  if (!spreads.has(about)) spreads.set(about, [about.from / about.value, about.to / about.value]);
  return spreads.get(about).map(part => String(Number((part * number).toPrecision(4))));
}

const unitWords = unit => (unit ?? "").replace(/([a-z])2\b/g, "$1²");

/** What the number alone does not say: that it is the usual one, or the middle of a range. */
function holds(about) {
  if (about.unset) return `Not set: ${about.usual || "as usual"}.`;
  return about.ranged ? `From ${ends(about, about.value).join(" to ")} ${unitWords(about.unit)}.` : "";
}

function choice(layer, about, id) {
  const options = about.choices.map((value, i) => {
    const radio = el("input", { type: "radio", name: id, id: `${id}-${i}`, checked: value === about.value });
    radio.onchange = () => { about.value = value; set(layer, about.key, value); };
    return el("label", {}, radio, String(value).replaceAll("_", " "));
  });
  const group = el("div", { class: "choices", role: "radiogroup", "aria-label": about.label }, ...options);
  return framed(about, id, el("span", { class: "label" }, about.label), group);
}

function toggleKey(layer, about, id) {
  const box = el("input", { type: "checkbox", id, checked: about.value });
  box.onchange = () => { about.value = box.checked; set(layer, about.key, box.checked); };
  return framed(about, id, el("label", {}, box, ` ${about.label}`));
}

function swatches(about, id, put) {
  const pick = el("input", { type: "color", id, value: /^#[0-9a-f]{6}$/i.test(about.value) ? about.value : "#888888", "aria-label": `${about.label}: pick` });
  const text = el("input", { type: "text", value: about.value, "aria-label": `${about.label} in words, such as #c9b49a`, spellcheck: false });
  pick.oninput = () => { text.value = pick.value; about.value = pick.value; put(pick.value); };
  text.onchange = () => {
    about.value = text.value.trim();
    if (/^#[0-9a-f]{6}$/i.test(about.value)) pick.value = about.value;
    put(about.value);
  };
  return framed(about, id, el("label", { htmlFor: id }, about.label), el("div", { class: "paint" }, pick, text));
}

const colour = (layer, about, id) => swatches(about, id, value => set(layer, about.key, value));

const paint = (layer, about, id) => swatches(about, id, value => change(`paint ${about.material}`, () => {
  const own = (table.finish.material ??= {});
  own[about.material] = { ...clone(own[about.material] ?? shelf[about.material] ?? {}), colour: value };
}));

function material(layer, about, id) {
  const names = Object.keys(known.paints).filter(name => known.paints[name].group === about.group);
  if (names.length < 2) return null;
  const pick = el("select", { id }, ...names.map(name => el("option", { value: name, selected: name === about.value }, name)));
  pick.onchange = () => change("", () => { entryOf(layer.name).material = pick.value; }, true);
  return framed(about, id, el("label", { htmlFor: id }, about.label), el("div", {}, pick));
}

function recipe(layer, about, id) {
  const mixed = () => (entryOf(layer.name).colourants ??= {});
  const lines = about.parts.map((part, i) => {
    const head = el("span", {}, el("span", { class: "chip", style: { background: colourants[part.name] ?? "#888" } }), part.name);
    const out = el("button", { type: "button", disabled: about.parts.length < 2, "aria-label": `Leave out ${part.name}`,
      onclick: () => change("", () => { delete mixed()[part.name]; }, true) }, "Leave out");
    const put = number => change(`${layer.name}.${part.name}`, () => { mixed()[part.name] = `${number} ${part.unit}`; });
    const range = el("input", { type: "range", id: `${id}-${i}`, min: 0, max: part.high, step: part.step, value: part.value, "aria-label": `${part.name}, ${part.unit}` });
    const shown = el("span", { class: "amount" }, el("output", {}, `${part.value} ${part.unit}`));
    fill(range);
    range.oninput = () => {
      part.value = Number(tidy(Number(range.value), part.step));
      shown.firstChild.textContent = `${part.value} ${part.unit}`;
      fill(range);
      put(part.value);
    };
    return el("div", {}, el("div", { class: "name" }, head, shown, out), range);
  });
  const rest = Object.keys(colourants).filter(name => !about.parts.some(part => part.name === name));
  const add = el("select", { "aria-label": "Add a colourant" }, el("option", { value: "" }, "Add a colourant …"), ...rest.map(name => el("option", { value: name }, name)));
  add.onchange = () => { if (add.value) change("", () => { mixed()[add.value] = "1 tsp"; }, true); };
  return framed(about, id, el("span", { class: "label" }, about.label), el("div", { class: "recipe" }, ...lines, add));
}

// --- figures ----------------------------------------------------------------------------------------------------------

function told({ figures, faults }) {
  $("faults").hidden = !faults;
  for (const one of rows.values()) one.item.classList.remove("at-fault");
  if (faults) {
    $("faults").replaceChildren(...faults.map(text => el("p", {}, text)));
    for (const [name, one] of rows) if (faults.some(text => text.includes(`"${name}"`))) one.item.classList.add("at-fault");
    return;
  }
  const drawn = new Map(figures.layers.map(line => [line.name, line]));
  for (const [name, one] of rows) line(one, drawn.get(name));
  $("bare").textContent = figures.bare_share > 0.0005 ? `${percent(figures.bare_share)} of what one sees is the bare wall` : "";
  sums(figures);
}

function line(one, figure) {
  const share = figure?.visible_share ?? 0;
  one.seen.textContent = !figure ? "left out" : share >= 0.0005 ? `${percent(share)} seen` : "";
  one.shown.style.width = `${100 * share}%`;
  one.dot.classList.toggle("none", !figure?.colour);
  one.dot.style.background = figure?.colour ?? "";
  if (figure?.colour) one.shown.style.setProperty("--tone", figure.colour);
  if (!figure) return;
  const facts = [figure.words];
  if (figure.coverage_achieved !== null && figure.coverage_achieved < 0.9995) facts.push(`touches ${percent(figure.coverage_achieved)}`);
  if (figure.mean_wet_mil > 0.005) facts.push(`${Number(figure.mean_wet_mil.toPrecision(2))} mil wet`);
  one.facts.textContent = facts.join("  ·  ");
}

function sums(figures) {
  const lines = figures.materials.filter(one => one.gal > 0).map(one =>
    el("tr", {}, el("th", { scope: "row" }, one.name), el("td", { class: "num" }, volume(one.gal))));
  $("materials").tBodies[0].replaceChildren(...lines);
  $("price").textContent = `Materials ${priceWords(figures)} per ft², ${forWall(figures)}`;
  $("priced").textContent = ["At the prices on the shelf; waste and labour are not in it.", withoutPrice(figures)].filter(Boolean).join(" ");
}

onPicture(told);
