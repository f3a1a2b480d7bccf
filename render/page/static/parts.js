// Small parts that every module uses. Text goes in as text: nothing here ever reads markup.

export const $ = id => document.getElementById(id);

/** Make an element: el("button", {type: "button", onclick: f}, "Keep"). */
export function el(tag, set = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [key, value] of Object.entries(set)) {
    if (value === undefined || value === null) continue;
    if (key === "class") made.className = value;
    else if (key === "data") Object.assign(made.dataset, value);
    else if (key === "style") for (const [name, v] of Object.entries(value)) made.style.setProperty(name, v);
    else if (key in made && !key.startsWith("aria")) made[key] = value;
    else made.setAttribute(key, value);
  }
  made.append(...inside.filter(one => one !== null && one !== undefined));
  return made;
}

export const clone = thing => structuredClone(thing);

export const nameOf = layer => layer.name ?? String(layer.kind ?? "").replaceAll("_", " ");

export function percent(share) {
  const points = share * 100;
  return points > 0 && points < 2 ? `${points.toFixed(1)}\u00a0%` : `${Math.round(points)}\u00a0%`;
}

/** Gallons, below a quart fluid ounces, below half an ounce teaspoons, as on the sheets. */
export function volume(gallons) {
  if (gallons >= 0.25) return `${gallons.toFixed(2)} gal`;
  if (gallons >= 0.5 / 128) return `${(gallons * 128).toFixed(1)} fl oz`;
  return gallons * 768 >= 0.05 ? `${(gallons * 768).toFixed(1)} tsp` : "a trace";
}

export const money = (amount, { currency = "$" }) => /^\p{L}+$/u.test(currency) ? `${amount.toFixed(2)} ${currency}` : `${currency}${amount.toFixed(2)}`;

export const priceWords = figures => money(figures.cost_per_ft2, figures);

export const forWall = figures =>
  `${money(figures.cost_per_ft2 * figures.net_ft2, figures)} for ${Number(figures.net_ft2.toPrecision(4))} ft²`;

export const withoutPrice = ({ unpriced = [] }) => unpriced.length ? `No price is known for ${unpriced.join(", ")}.` : "";

/** Round to a slider's step and write without dust. */
export function tidy(number, step) {
  const places = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9) + (String(step).includes("25") ? 1 : 0));
  return String(Number((Math.round(number / step) * step).toFixed(Math.min(places, 8))));
}

/** Fill the part of a slider left of its thumb. */
export function fill(range) {
  const part = (range.value - range.min) / (range.max - range.min || 1);
  range.style.setProperty("--at", `${(100 * part).toFixed(2)}%`);
}

export function say(text) {
  $("say").textContent = text;
}

/** Hand a file to the browser's own saving. */
export function saveAs(blob, name) {
  const link = el("a", { href: URL.createObjectURL(blob), download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 20_000);
}

export function fileName(name, ending) {
  const safe = String(name).toLowerCase().replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-+|-+$/g, "").slice(0, 60);
  return `${safe || "finish"}${ending}`;
}
