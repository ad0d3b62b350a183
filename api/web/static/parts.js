// Pieces that the yard's pages are made of.
import * as units from "./units.js";

// el makes an element. Properties that begin with "on" are listeners, those with
// a dash are attributes.
export function el(tag, props, ...inside) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(props || {})) {
    const isAttribute = name.includes("-") || name === "role";
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (!isAttribute) node[name] = value;
    else if (value !== null) node.setAttribute(name, value);
  }
  node.append(...inside.flat().filter((piece) => piece !== null && piece !== undefined && piece !== false));
  return node;
}

// button makes a button that does not send a form.
export const button = (props, ...inside) => el("button", { type: "button", ...props }, ...inside);

// pressed is the attribute of a button that stays down while something is so.
export const pressed = (isDown) => ({ "aria-pressed": String(Boolean(isDown)) });

// refill puts other pieces into a node. What had the focus in it has it again,
// found by its name; if that is gone, what instead selects.
export function refill(node, pieces, instead) {
  const nameOf = (element) => element.getAttribute("aria-label") || element.textContent;
  const focused = node.contains(document.activeElement) ? document.activeElement : null;
  node.replaceChildren(...pieces);
  if (!focused || focused === node) return;

  const sameKind = [...node.querySelectorAll(focused.tagName)];
  const same = sameKind.find((element) => nameOf(element) === nameOf(focused) && !element.disabled);
  (same || node.querySelector(instead))?.focus({ preventScroll: true });
}

const yard = document.getElementById("yard");
const remarks = yard?.parentNode.appendChild(el("p", { className: "hide", role: "status" }));

// aloud has a remark read out by a screen reader: pieces that are drawn anew are
// not, so it goes to one that stays.
export function aloud(text) {
  if (remarks.textContent !== text) remarks.textContent = text;
}

// center moves each row of stops sideways to its current one; the page itself
// stays where it is under the finger.
export function center(root) {
  for (const row of root.querySelectorAll(".route")) {
    const current = row.querySelector("[aria-current]");
    if (current) row.scrollLeft = current.offsetLeft - row.offsetLeft - (row.clientWidth - current.clientWidth) / 2;
  }
}

// unbroken keeps a number and its unit on one line.
export const unbroken = (text) => text.replace(/(\d) (?=[a-zA-Z])/g, "$1\u00a0");

// key is one big number key; its unit stands on it.
export function key(text, unit, press, name) {
  const small = unit ? el("small", { className: unit === "32nd" ? "" : "apart" }, units.word(unit)) : "";
  return button({ className: "numkey", onclick: press, "aria-label": name || null }, text, small);
}
