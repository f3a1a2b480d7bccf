// The lamp, in words and as direct controls; and the size of the wall.

import { $, el, fill } from "./parts.js";
import { note, table, write } from "./sitting.js";
import { redraw } from "./easel.js";

const PLACES = ["upper left", "above", "upper right", "left", "", "right", "lower left", "below", "lower right"];
const LIGHTS = /\b(LED\s*\d{4,5}\s*K|\d{3,6}\s*K|LED(?:-B\d)?|D65|D50|A)\b/i;
const USUAL = { window: 14, lamp: 30, overhead: 25, even: 90 };

/** Read the words into the controls, as far as they say. */
function parts(words) {
  const text = words.toLowerCase();
  return {
    kind: Object.keys(USUAL).find(kind => new RegExp(`\\b${kind}\\b`).test(text)) ?? "window",
    place: PLACES.filter(Boolean).sort((a, b) => b.length - a.length).find(place => text.includes(place)) ?? "left",
    angle: Number(/(\d+(?:\.\d+)?)\s*(?:deg|°)/.exec(text)?.[1] ?? NaN),
    light: LIGHTS.exec(words)?.[0] ?? "",
    rest: /\b(un)?adapted\b/.exec(text)?.[0] ?? "",
  };
}

function compose({ kind, place, angle, light, rest }) {
  const head = kind === "even" ? "even" : [kind, kind === "overhead" ? "" : place, `${angle} deg`].filter(Boolean).join(" ");
  return [head, light, rest].filter(Boolean).join(", ");
}

function put(words, what) {
  if (!words.trim() || words === table.light) return;
  note(what);
  table.light = words.trim();
  write();
  redraw();
  document.dispatchEvent(new Event("tablechange"));
}

export function showLamp() {
  const now = parts(table.light);
  const angle = Number.isNaN(now.angle) ? USUAL[now.kind] : now.angle;
  $("lampkind").value = now.kind;
  $("lampangle").value = angle;
  $("lampangleout").textContent = `${angle} deg`;
  fill($("lampangle"));
  $("lampangle").disabled = now.kind === "even";
  for (const radio of $("lampplace").querySelectorAll("input")) {
    radio.checked = now.kind !== "even" && radio.value === (now.kind === "overhead" ? "above" : now.place);
    radio.disabled = now.kind === "even" || now.kind === "overhead";
  }
  const known = [...$("lamplight").options].find(option => option.value.toLowerCase() === now.light.toLowerCase());
  if (!known) $("lamplight").append(el("option", { value: now.light }, now.light));
  $("lamplight").value = known ? known.value : now.light;
  $("lampwords").value = table.light;
  $("wallsize").value = table.wall;
}

export function wireLamp() {
  $("lampplace").append(...PLACES.map(place => place
    ? el("input", { type: "radio", name: "lampplace", value: place, "aria-label": place, title: place })
    : el("span", { class: "middle", "aria-hidden": "true" })));
  const read = () => {
    const before = parts(table.light);
    const kind = $("lampkind").value;
    const angle = kind === before.kind ? Number($("lampangle").value) : USUAL[kind];
    const place = $("lampplace").querySelector("input:checked")?.value ?? before.place;
    return compose({ ...before, kind, place, angle, light: $("lamplight").value });
  };
  $("lampplace").onchange = $("lampkind").onchange = $("lamplight").onchange = () => put(read(), "");
  $("lampangle").oninput = () => {
    $("lampangleout").textContent = `${$("lampangle").value} deg`;
    fill($("lampangle"));
    put(read(), "lamp angle");
  };
  $("lampwords").onchange = () => put($("lampwords").value, "");
  $("wallsize").onchange = () => {
    const size = $("wallsize").value.trim();
    if (!size || size === table.wall) return;
    note();
    table.wall = size;
    write();
    redraw();
    document.dispatchEvent(new Event("tablechange"));
  };
}
