// What can be felt or seen, one large button each.
import { button, el, pressed } from "./parts.js";

// What is counted, by the code of the observation.
const COUNTED = {
  cupping: "cups",
  flat_spot: "spots",
  cut: "cuts",
  nail: "objects",
  missing_weight: "weights",
  loose_nuts: "nuts",
};
const MOST = 60;

// choices is a group of what can be seen. chosen has the details by code; change
// is given the look and its details, null where it is not seen after all.
export function choices(title, looks, chosen, change) {
  const buttons = looks.map((look) => choice(look, chosen?.[look.code], (details) => change(look, details)));
  return el("fieldset", { className: "choices" }, el("legend", {}, title), buttons);
}

// choice is one thing that can be seen, with how many of it where that is counted.
export function choice(look, details, change) {
  const warning = look.off ? el("small", {}, "off the road") : "";
  const toggle = button(
    {
      className: "choice" + (look.off ? " danger" : ""),
      ...pressed(details),
      onclick: () => change(details ? null : {}),
    },
    el("span", {}, look.name, warning),
  );
  if (!details) return toggle;

  const more = [];
  if (COUNTED[look.code]) more.push(...counter(COUNTED[look.code], details, change));
  if (look.code === "feathering") more.push("edges point ", ...directions(details, change));
  if (more.length === 0) return toggle;
  return el("div", { className: "choice-open" }, toggle, el("div", { className: "choice-more" }, more));
}

function counter(what, details, change) {
  const count = details.n || 0;
  const set = (to) => () => change({ ...details, n: Math.max(0, Math.min(MOST, to)) });
  return [
    el("span", {}, `${what}: `),
    button({ onclick: set(count - 1), "aria-label": "one fewer" }, "−"),
    el("output", {}, count ? String(count) : "not counted"),
    button({ onclick: set(count + 1), "aria-label": "one more" }, "+"),
  ];
}

function directions(details, change) {
  return ["inward", "outward"].map((direction) =>
    button({ ...pressed(details.dir === direction), onclick: () => change({ ...details, dir: direction }) }, direction),
  );
}

// withChoice is what was seen with one thing changed.
export function withChoice(see, look, details) {
  const changed = { ...see };
  if (details) changed[look.code] = details;
  else delete changed[look.code];
  return changed;
}
