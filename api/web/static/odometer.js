// The first step of a walk: the odometer, and how closely tires are measured.
import * as numeral from "./numeral.js";
import { digits } from "./pads.js";
import { button, el, pressed } from "./parts.js";

export function odometerStep(walk) {
  const { entry, vehicle } = walk;
  const unit = walk.units.distance;
  const set = (odometer) => {
    Object.assign(entry, { odometer, unknown: false });
    walk.save();
  };
  const shown = el("input", {
    className: "shown",
    id: "odometer",
    inputMode: "none",
    autocomplete: "off",
    value: numeral.shown(entry.odometer),
    "aria-label": "Odometer, " + unit,
    oninput: () => set(numeral.plain(shown.value)),
  });
  const change = (text) => {
    shown.value = numeral.shown(text);
    set(text);
  };

  return el(
    "section",
    {},
    el("h2", { tabIndex: -1 }, "Odometer"),
    el("p", { className: "last" }, vehicle.odometer ? "Last " + vehicle.odometer : "Not known so far"),
    el("p", { className: "value-line" }, shown, el("span", { className: "unit" }, unit)),
    digits(entry.odometer, unit, change, () => walk.go(1), false),
    unknownButton(walk),
    placesAround(walk),
    el(
      "p",
      { className: "small" },
      "Walk from the left front down the left side, up the right side, then the spares. Left is the driver's left. ",
      "One place at the valve is the quick way; when you feel cups you want 8.",
    ),
    el("p", { className: "small" }, el("a", { href: "?plain=1" }, "Use the plain form instead")),
    walk.foot(walk.next("Start at " + vehicle.places[0].at)),
  );
}

function unknownButton(walk) {
  const press = () => {
    Object.assign(walk.entry, { unknown: true, odometer: "" });
    walk.go(1);
  };
  return button({ className: "choice", ...pressed(walk.entry.unknown), onclick: press }, "Odometer unknown");
}

// placesAround chooses how many places around each tire are measured.
function placesAround(walk) {
  const choose = (count) => () => {
    walk.entry.around = count;
    walk.save();
    walk.draw();
  };
  const buttons = [1, 3, 8].map((count) =>
    button(
      { className: "choice", ...pressed(walk.entry.around === count), onclick: choose(count) },
      count === 1 ? "1 place" : count + " places",
    ),
  );
  return el("fieldset", { className: "choices" }, el("legend", {}, "Places around each tire"), buttons);
}
