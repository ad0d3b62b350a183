// One place of a walk: depths and pressure by keys, what hand and eye find, a note
// and photos.
import { alongTape, angles, clock } from "./around.js";
import * as check from "./check.js";
import { choice, choices, withChoice } from "./choices.js";
import * as numeral from "./numeral.js";
import { depthPad, digits, pressurePad } from "./pads.js";
import { aloud, button, center, el, pressed, refill, unbroken } from "./parts.js";
import { noteAndPhotos } from "./photos.js";
import * as units from "./units.js";

const PRESSURE = "p"; // key of the field for the pressure
const DEEPEST_KEY = 26; // whole units of depth
const DEEPEST_KEY_UNKNOWN = 20; // where the tire's new depth is not known

export function wheelStep(walk, at) {
  if (!at.tire) return noTire(walk, at);

  const wheel = new Wheel(walk, at);
  wheel.draw();
  return wheel.section;
}

function noTire(walk, at) {
  return el(
    "section",
    {},
    el("h2", { tabIndex: -1 }, at.at, el("small", {}, " " + at.role)),
    el(
      "p",
      { className: "empty" },
      "No tire is recorded here, so nothing can be measured. ",
      el("a", { href: `/vehicles/${walk.vehicle.id}/do/fit` }, "Record which tire is here"),
      " when there is a network.",
    ),
    walk.foot(walk.nextPlace()),
  );
}

class Wheel {
  constructor(walk, at) {
    Object.assign(this, { walk, at });
    this.section = el("section", { className: "wheel-step" });
    this.active = null; // key of the field that the pad types into
    this.isDigitwise = false; // the pad types digit by digit
  }

  // typed is what was entered here; see entries.start.
  get typed() {
    return this.walk.entry.places[this.at.at] || {};
  }

  // set changes what was entered here.
  set(change) {
    const { entry } = this.walk;
    entry.places[this.at.at] = { around: entry.around, ...this.typed, ...change };
    return this.walk.save();
  }

  // around is how many places around the tire are measured.
  get around() {
    return this.typed.around || this.walk.entry.around;
  }

  // fields in the order of measuring: each place around the tire from the outer
  // groove to the inner one, then the pressure.
  get fields() {
    const stations = [...Array(this.around).keys()];
    const depths = stations.flatMap((station) =>
      this.at.grooves.map((label, groove) => ({ key: `${groove}.${station}`, label, station })),
    );
    return [...depths, { key: PRESSURE, label: "pressure" }];
  }

  valueOf(key) {
    const { typed } = this;
    if (key !== PRESSURE) return typed.d?.[key] || "";
    return (typed.nr ? "n/r" : typed.p) || "";
  }

  write(key, text) {
    if (key === PRESSURE) return this.set({ p: text, nr: false });

    const depths = { ...this.typed.d };
    if (text) depths[key] = text;
    else delete depths[key];
    return this.set({ d: depths });
  }

  firstEmpty() {
    return this.fields.find((field) => !this.valueOf(field.key));
  }

  unitOf(key) {
    return key === PRESSURE ? this.walk.units.pressure : this.walk.units.depth;
  }

  draw() {
    refill(this.section, this.parts(), ".pad button");
    center(this.section);
  }

  parts() {
    const { at, walk } = this;
    const { me } = walk;
    const isShown = this.fields.some((field) => field.key === this.active);
    if (!isShown) this.active = (this.firstEmpty() || this.fields.at(-1)).key;

    this.hint = el("p", { className: "hint" });
    this.judge();
    this.pads = el("div", {}, this.pad());
    const see = (look, details) => this.see(look, details);

    return [
      el("h2", { tabIndex: -1 }, at.at, el("small", {}, ` ${at.role} · tire ${at.tire}`)),
      this.lastTime(),
      this.readouts(),
      this.hint,
      this.pads,
      this.chooseAround(),
      choices("Feel", me.feel, this.typed.see, see),
      choices("Look", me.look, this.typed.see, see),
      this.moreLooks(see),
      noteAndPhotos(this),
      walk.foot(walk.nextPlace()),
    ];
  }

  lastTime() {
    const { last, last_on: day, last_pressure: pressure } = this.at;
    const depths = last ? `Last ${day}: ${last.map(unbroken).join(", ")}` : "Never measured";
    const ask = this.at.ask ? el("b", {}, ` ${this.at.ask}`) : "";
    return el("p", { className: "last" }, depths, pressure ? ` · ${unbroken(pressure)}` : "", ask);
  }

  moreLooks(see) {
    const { rest } = this.walk.me;
    const chosen = this.typed.see || {};
    return el(
      "details",
      { open: rest.some((look) => chosen[look.code]) },
      el("summary", {}, "More that can be seen"),
      el(
        "div",
        { className: "choices" },
        rest.map((look) => choice(look, chosen[look.code], (details) => see(look, details))),
      ),
    );
  }

  see(look, details) {
    const wantsMorePlaces = look.code === "cupping" && details && this.around === 1;
    const more = wantsMorePlaces ? { offer8: true } : {};
    this.set({ see: withChoice(this.typed.see, look, details), ...more });
    this.draw();
  }

  // judge says what the values so far want, beside the keys and aloud.
  judge() {
    const { walk } = this;
    const remarks = check.place(this.at, this.typed, walk.visit);
    this.hint.classList.toggle(
      "off",
      remarks.some((remark) => remark.off),
    );
    this.hint.textContent = remarks.map((remark) => remark.text).join(" ");
    aloud(this.hint.textContent);
  }

  // readouts are the fields at one place around the tire, beside the pressure.
  readouts() {
    const last = this.around - 1;
    const current = this.active === PRESSURE ? last : Number(this.active.split(".")[1]);
    const shown = this.fields.filter((field) => field.key === PRESSURE || field.station === current);

    const row = el(
      "div",
      { className: "readouts" },
      shown.map((field) => this.readout(field)),
    );
    row.style.gridTemplateColumns = `repeat(${shown.length}, minmax(0, 1fr))`;
    return this.around === 1 ? row : el("div", {}, this.stations(current), row);
  }

  // stations are the places around the tire, by their angles.
  stations(current) {
    const isFull = (station) => this.at.grooves.every((_, groove) => this.valueOf(`${groove}.${station}`));
    const stop = (station) =>
      button(
        {
          className: "stop" + (isFull(station) ? " done" : ""),
          "aria-current": station === current ? "step" : null,
          onclick: () => {
            this.choose("0." + station);
            this.draw();
          },
        },
        this.placeText(station),
      );
    return el(
      "div",
      { className: "route", role: "group", "aria-label": "Places around the tire, clockwise from the valve" },
      [...Array(this.around).keys()].map(stop),
    );
  }

  // placeText is where a place lies: on the tape if that was laid around, else by angle
  // and, for unequal places, by the clock.
  placeText(station) {
    const degrees = angles(this.around, this.typed.unequal)[station];
    if (!this.typed.unequal) return `${degrees}°`;
    if (this.typed.once > 0) return `${alongTape(degrees, this.typed.once)} mm`;
    return `${degrees}° ${clock(degrees)}`;
  }

  readout(field) {
    const unit = units.word(this.unitOf(field.key));
    const place = field.station ? ` at place ${field.station + 1}` : "";
    const input = el("input", {
      inputMode: this.walk.usesKeyboard ? "decimal" : "none",
      autocomplete: "off",
      value: numeral.shown(this.valueOf(field.key)),
      name: `${this.at.at} ${field.key}`,
      "aria-label": `${field.label}${place}, ${unit}`,
      oninput: () => {
        this.write(field.key, numeral.plain(input.value.trim()));
        this.judge();
      },
      onclick: () => this.turnTo(field.key),
      onfocus: () => this.turnTo(field.key),
    });
    return el(
      "label",
      { className: "readout" + (this.active === field.key ? " active" : ""), "data-field": field.key },
      el("span", {}, field.label),
      input,
      el("small", {}, unit),
    );
  }

  choose(key) {
    this.active = key;
    this.isDigitwise = false;
  }

  // turnTo gives the pad to a field that was touched, which keeps the focus.
  turnTo(key) {
    if (this.active === key) return;
    this.choose(key);
    for (const label of this.section.querySelectorAll(".readout")) {
      label.classList.toggle("active", label.dataset.field === key);
    }
    this.pads.replaceChildren(this.pad());
  }

  // onward goes to the next field that is empty.
  onward() {
    this.choose(this.firstEmpty()?.key || this.active);
    this.draw();
  }

  pad() {
    const typesDigits = this.isDigitwise || (this.active === PRESSURE && !this.at.target);
    const keys = typesDigits ? this.digitKeys() : this.valueKeys();
    return el("div", {}, keys, this.padOptions());
  }

  // valueKeys are whole values, one tap each.
  valueKeys() {
    const { active, at } = this;
    const unit = this.unitOf(active);
    const pick = (text) => {
      this.write(active, text);
      this.onward();
    };
    const other = () => {
      this.isDigitwise = true;
      this.draw();
    };
    if (active === PRESSURE) return pressurePad(unit, at.target, pick, () => this.notReached(), other);

    const isNewKnown = at.new?.length > 0;
    const deepest = isNewKnown ? Math.ceil(Math.max(...at.new) / units.NANOMETRES[unit]) : DEEPEST_KEY_UNKNOWN;
    return depthPad(unit, Math.min(DEEPEST_KEY, deepest), pick, other);
  }

  digitKeys() {
    const { active } = this;
    const change = (text) => {
      this.write(active, text);
      const shown = this.section.querySelector(".readout.active input");
      if (shown) shown.value = numeral.shown(text);
    };
    const typed = this.valueOf(active).replace("n/r", "");
    const pad = digits(typed, this.unitOf(active), change, () => this.onward(), true);

    if (active === PRESSURE) {
      pad.append(button({ className: "numkey word across-all", onclick: () => this.notReached() }, "not reached"));
    }
    return pad;
  }

  notReached() {
    this.set({ nr: true, p: "" });
    this.draw();
  }

  padOptions() {
    const { walk } = this;
    const option = (text, isOn, press) => button({ className: "quiet", ...pressed(isOn), onclick: press }, text);
    const toggleWarm = () => {
      this.set({ hot: !this.typed.hot });
      this.draw();
    };
    const toggleKeyboard = () => {
      walk.usesKeyboard = !walk.usesKeyboard;
      this.draw();
      if (walk.usesKeyboard) this.section.querySelector(".readout.active input")?.focus();
    };
    return el(
      "p",
      { className: "pad-more" },
      option("Tire warm", this.typed.hot, toggleWarm),
      option("Phone keyboard", walk.usesKeyboard, toggleKeyboard),
    );
  }

  // chooseAround offers more places around this tire, at once when cups are felt.
  chooseAround() {
    const isOffered = this.typed.offer8 && this.around === 1;
    const text = isOffered
      ? "Cups: count them all around. Then measure 8 unequal places, from the valve clockwise seen from outside. "
      : "Around this tire: ";
    const option = (name, count, isUnequal) => {
      const isOn = this.around === count && Boolean(this.typed.unequal) === isUnequal;
      return button({ ...pressed(isOn), onclick: () => this.setAround(count, isUnequal) }, name);
    };
    return el(
      "div",
      { className: "pad-more" + (isOffered ? " kept" : "") },
      text,
      option("1 place", 1, false),
      option("3 places", 3, false),
      option("8 places", 8, false),
      option("8 unequal places", 8, true),
      this.typed.unequal ? this.tape() : "",
    );
  }

  // tape asks for a tape once around the tread, from which places are marked in mm.
  tape() {
    const input = el("input", {
      inputMode: "numeric",
      autocomplete: "off",
      value: this.typed.once || "",
      name: `${this.at.at} tape`,
      onchange: () => {
        this.set({ once: Number(input.value.replace(/\D/g, "")) });
        this.draw();
      },
    });
    return el("label", { className: "tape" }, "Tape once around the tread, mm ", input);
  }

  // setAround drops the depths at places that are not measured any more.
  setAround(count, isUnequal) {
    const isMoved = Boolean(this.typed.unequal) !== isUnequal;
    const isKept = ([key]) => {
      const station = Number(key.split(".")[1]);
      return station === 0 || (!isMoved && (count > this.around || station < count));
    };
    const depths = Object.fromEntries(Object.entries(this.typed.d || {}).filter(isKept));
    this.set({ around: count, unequal: isUnequal, d: depths, offer8: false });
    this.active = null; // the next that is empty
    this.draw();
  }
}
