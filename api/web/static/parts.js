// Pieces that the yard's pages are made of.
"use strict";

// el makes an element. Properties that begin with "on" are listeners, those
// with a dash are attributes.
function el(tag, props, ...inside) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(props || {})) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name.includes("-") || name === "role") { if (value !== null) node.setAttribute(name, value); }
    else node[name] = value;
  }
  node.append(...inside.flat().filter((n) => n !== null && n !== undefined && n !== false));
  return node;
}

// refill puts other pieces into a node. What had the focus in it has it again,
// found by its name; if that is gone, what instead selects.
function refill(node, pieces, instead) {
  const name = (e) => e.getAttribute("aria-label") || e.textContent;
  const had = node.contains(document.activeElement) ? document.activeElement : null;
  node.replaceChildren(...pieces);
  if (!had || had === node) return;
  const same = [...node.querySelectorAll(had.tagName)].find((e) => name(e) === name(had) && !e.disabled);
  (same || node.querySelector(instead))?.focus({ preventScroll: true });
}

// aloud has a remark read out by a screen reader: pieces that are drawn anew are
// not, so it goes to one that stays.
const heard = document.getElementById("yard")?.parentNode.appendChild(el("p", { className: "hide", role: "status" }));
function aloud(text) {
  if (heard.textContent !== text) heard.textContent = text;
}

// center moves each row of stops sideways to its current one; the page itself
// stays where it is under the finger.
function center(root) {
  for (const row of root.querySelectorAll(".route")) {
    const now = row.querySelector("[aria-current]");
    if (now) row.scrollLeft = now.offsetLeft - row.offsetLeft - (row.clientWidth - now.clientWidth) / 2;
  }
}

const UNIT_WORDS = { "32nd": "/32" };
const unitWord = (unit) => UNIT_WORDS[unit] || unit;

// unbroken keeps a number and its unit on one line.
const unbroken = (text) => text.replace(/(\d) (?=[a-zA-Z])/g, "$1\u00a0");

// key is one big number key; its unit stands on it.
const key = (text, unit, press, name) => el("button", { type: "button", className: "numkey", onclick: press, "aria-label": name || null },
  text, unit ? el("small", { className: unit === "32nd" ? "" : "apart" }, unitWord(unit)) : "");

// digits is a pad that types digit by digit. change is given the new text, done
// is called by the last key.
function digits(text, unit, change, done, point) {
  const type = (d) => () => { if (text.length < 9 && !(d === "." && text.includes("."))) change((text += d)); };
  const back = () => change((text = text.slice(0, -1)));
  return el("div", { className: "pad pad-3" },
    [1, 2, 3, 4, 5, 6, 7, 8, 9].map((n) => key(String(n), unit, type(String(n)))),
    point ? key(numeral.sign, unit, type("."), "point") : el("span"),
    key("0", unit, type("0")),
    key("⌫", "", back, "delete the last digit"),
    el("button", { type: "button", className: "numkey across-all", onclick: done }, "OK"));
}

// depthPad offers every whole depth up to most, one tap each in 32nds; in mm
// the tenth is a second tap. pick is given the text.
function depthPad(unit, most, pick, other) {
  const whole = Array.from({ length: most + 1 }, (_, n) => n);
  const pad = el("div", { className: "pad pad-5" });
  const otherKey = () => el("button", { type: "button", className: "numkey word", onclick: other }, "other");
  const wholes = () => refill(pad, [...whole.map((n) => key(String(n), unit, () => (unit === "32nd" ? pick(String(n)) : tenths(n)))), otherKey()], "button");
  const tenths = (n) => refill(pad, [...Array.from({ length: 10 }, (_, t) => key(numeral.shown(n + "." + t), unit, () => pick(n + "." + t))),
    el("button", { type: "button", className: "numkey word", onclick: wholes }, "back"), otherKey()], "button");
  wholes();
  return pad;
}

// pressurePad offers the pressures around the target, one tap each.
function pressurePad(unit, targetKPa, pick, notReached, other) {
  const step = { kPa: 10, psi: 1, bar: 0.1 }[unit], size = { kPa: 1, psi: 6.894757293168361, bar: 100 }[unit];
  const middle = Math.round(targetKPa / size / step);
  const around = Array.from({ length: 18 }, (_, i) => +((middle - 11 + i) * step).toFixed(1)).filter((n) => n >= 0);
  return el("div", { className: "pad pad-5" }, around.map((n) => key(numeral.shown(unit === "bar" ? n.toFixed(1) : n), unit, () => pick(String(n)))),
    el("button", { type: "button", className: "numkey word", onclick: notReached }, "not reached"),
    el("button", { type: "button", className: "numkey word", onclick: other }, "other"));
}

// choice is one large thing that can be felt or seen, with how many of it.
const COUNTED = { cupping: "cups", flat_spot: "spots", cut: "cuts", nail: "objects", missing_weight: "weights", loose_nuts: "nuts" };
function choice(look, chosen, change) {
  const button = el("button", { type: "button", className: "choice" + (look.off ? " danger" : ""), "aria-pressed": String(Boolean(chosen)),
    onclick: () => change(chosen ? null : {}) }, el("span", {}, look.name, look.off ? el("small", {}, "off the road") : ""));
  if (!chosen) return button;
  const more = el("div", { className: "choice-more" });
  if (COUNTED[look.code]) {
    const n = chosen.n || 0;
    const set = (to) => () => change({ ...chosen, n: Math.max(0, Math.min(60, to)) });
    more.append(el("span", {}, `${COUNTED[look.code]}: `), el("button", { type: "button", onclick: set(n - 1), "aria-label": "one fewer" }, "−"),
      el("output", {}, n ? String(n) : "not counted"), el("button", { type: "button", onclick: set(n + 1), "aria-label": "one more" }, "+"));
  }
  if (look.code === "feathering") {
    more.append("edges point ", ...["inward", "outward"].map((d) => el("button", { type: "button", "aria-pressed": String(chosen.dir === d),
      onclick: () => change({ ...chosen, dir: d }) }, d)));
  }
  return more.childNodes.length ? el("div", { className: "choice-open" }, button, more) : button;
}

// downscaled redraws a picture at most 1600 pixels long, as JPEG: small enough
// to send from a yard, and without what the camera noted about it.
async function downscaled(file) {
  const LONGEST = 1600, MOST = 690000; // pixels, bytes: the server takes a little more
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
  const canvas = el("canvas", { width: Math.round(picture.width * scale), height: Math.round(picture.height * scale) });
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const encoded = (quality) => new Promise((done, fail) => canvas.toBlob((b) => (b ? done(b) : fail(new Error("the picture could not be read"))), "image/jpeg", quality));
  for (const quality of [0.8, 0.6, 0.4]) {
    const blob = await encoded(quality);
    if (blob.size <= MOST) return blob;
  }
  return encoded(0.2);
}
