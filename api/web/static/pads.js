// Keys to enter numbers by, with gloves on.
import * as numeral from "./numeral.js";
import { button, el, key, refill } from "./parts.js";
import { KILOPASCALS } from "./units.js";

const LONGEST_NUMBER = 9; // characters

// digits is a pad that types digit by digit. change is given the new text, done is
// called by the last key.
export function digits(start, unit, change, done, hasPoint) {
  let text = start;
  const set = (to) => {
    text = to;
    change(text);
  };
  const type = (character) => () => {
    const isSecondPoint = character === "." && text.includes(".");
    if (text.length < LONGEST_NUMBER && !isSecondPoint) set(text + character);
  };

  return el(
    "div",
    { className: "pad pad-3" },
    [1, 2, 3, 4, 5, 6, 7, 8, 9].map((digit) => key(String(digit), unit, type(String(digit)))),
    hasPoint ? key(numeral.sign, unit, type("."), "point") : el("span"),
    key("0", unit, type("0")),
    key("⌫", "", () => set(text.slice(0, -1)), "delete the last digit"),
    button({ className: "numkey across-all", onclick: done }, "OK"),
  );
}

const wordKey = (text, press) => button({ className: "numkey word", onclick: press }, text);

// depthPad offers every whole depth up to most, one tap each in 32nds; in mm the
// tenth is a second tap. pick is given the text.
export function depthPad(unit, most, pick, other) {
  const pad = el("div", { className: "pad pad-5" });
  const show = (...keys) => refill(pad, [...keys, wordKey("other", other)], "button");
  const wholes = Array.from({ length: most + 1 }, (_, whole) => whole);

  const showWholes = () => {
    const press = (whole) => () => (unit === "32nd" ? pick(String(whole)) : showTenths(whole));
    show(...wholes.map((whole) => key(String(whole), unit, press(whole))));
  };
  const showTenths = (whole) => {
    const texts = Array.from({ length: 10 }, (_, tenth) => `${whole}.${tenth}`);
    const keys = texts.map((text) => key(numeral.shown(text), unit, () => pick(text)));
    show(...keys, wordKey("back", showWholes));
  };

  showWholes();
  return pad;
}

// pressurePad offers the pressures around the target, one tap each.
export function pressurePad(unit, target, pick, notReached, other) {
  const step = { kPa: 10, psi: 1, bar: 0.1 }[unit];
  const [below, count] = [11, 18]; // more of them below the target than above
  const middle = Math.round(target / KILOPASCALS[unit] / step);
  const offered = Array.from({ length: count }, (_, i) => +((middle - below + i) * step).toFixed(1));

  const keys = offered
    .filter((number) => number >= 0)
    .map((number) => {
      const text = numeral.shown(unit === "bar" ? number.toFixed(1) : number);
      return key(text, unit, () => pick(String(number)));
    });
  return el("div", { className: "pad pad-5" }, keys, wordKey("not reached", notReached), wordKey("other", other));
}
