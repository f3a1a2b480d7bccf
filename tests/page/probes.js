// What the tests ask of the page, run inside it: probe(name, ...arguments).
const linear = v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
const luminance = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b); // WCAG 2.2, relative luminance
const read = text => text.match(/[\d.]+/g).map(Number);
const chain = e => (e ? [e, ...chain(e.parentElement)] : []);
const behind = e => chain(e).map(one => read(getComputedStyle(one).backgroundColor)).find(c => c[3] !== 0)?.slice(0, 3) ?? [255, 255, 255];
const all = what => [...document.querySelectorAll(what)].filter(e => e.checkVisibility());
const worded = "input:not([type=radio], [type=checkbox], [type=range], [type=color], [type=file]), select";
const brief = e => e.outerHTML.slice(0, 90);

const probes = {
  /** Full picture painted, or faults told, for what is on the table. */
  atRest() {
    const d = document.documentElement.dataset;
    return Boolean(d.ready) && [`${d.change} settled`, `${d.change} faults`].includes(d.painted);
  },
  pixels: id => document.getElementById(id).toDataURL(),
  slide(key, value) {
    const range = document.querySelector(`.body:not([hidden]) input[data-key="${key}"]`);
    range.value = value;
    range.dispatchEvent(new Event("input", { bubbles: true }));
  },
  listen() {
    window.came = [];
    document.addEventListener("painted", e => window.came.push([e.detail.quality, document.getElementById("wall").width]));
  },
  openFile(text) {
    const hold = new DataTransfer();
    hold.items.add(new File([text], "evil.toml"));
    const own = document.getElementById("own");
    own.files = hold.files;
    own.dispatchEvent(new Event("change"));
  },
  openDrop(number) {
    document.querySelectorAll("details.drop").forEach((drop, i) => { drop.open = i === number; });
  },
  /** Text that stands out less than WCAG 2.2 asks: 4.5, or 3 for 24 px and more. */
  contrast: () => all("body *").filter(e => !e.closest(".unseen, :disabled")).filter(e =>
    [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()) || (e.matches(worded) && e.value)).map(e => {
    const fade = chain(e).reduce((part, one) => part * getComputedStyle(one).opacity, 1);
    const back = behind(e);
    const fore = read(getComputedStyle(e).color).slice(0, 3).map((v, i) => fade * v + (1 - fade) * back[i]);
    const [dark, light] = [luminance(fore), luminance(back)].sort((a, b) => a - b);
    return [(light + 0.05) / (dark + 0.05), parseFloat(getComputedStyle(e).fontSize) >= 24 ? 3 : 4.5, brief(e)];
  }).filter(([ratio, least]) => ratio < least),
  sideways: () => document.documentElement.scrollWidth - window.innerWidth,
  sheetsOutside: () => all("details.drop[open] .sheet").map(e => e.getBoundingClientRect())
    .filter(b => b.left < 0 || b.right > innerWidth + 1 || b.bottom > innerHeight + 1).length,
  /** What sticks out of the opened layer, or lets the list be pushed sideways. */
  outside() {
    const list = document.getElementById("list");
    const box = list.querySelector(".body:not([hidden])").getBoundingClientRect();
    return [...(list.scrollWidth > list.clientWidth ? ["the list"] : []), ...all(".body:not([hidden]) *").filter(e => {
      const own = e.getBoundingClientRect();
      return own.width > 1 && (own.right > box.right + 1 || own.left < box.left - 1);
    }).map(brief)];
  },
  /** Controls lower or narrower than that many CSS px: 24 by WCAG 2.2, 2.5.8; 44 under a finger, 2.5.5. */
  small: least => all("button, select, summary, input:not([type=file])").filter(e => !e.closest(".choices"))
    .map(e => (e.closest("label") ?? e)).filter(e => {
      const box = e.getBoundingClientRect();
      return box.width && Math.min(box.width, box.height) < least - 0.5;
    }).map(brief),
  unnamed: () => all("button, select, input").filter(e => !(e.labels?.length || e.getAttribute("aria-label")
    || e.textContent.trim() || e.getAttribute("aria-hidden"))).map(brief),
};
return probes[arguments[0]](...[...arguments].slice(1));
