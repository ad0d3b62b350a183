// The walk around one vehicle: odometer, each place in walking order, summary.
import * as entries from "./entry.js";
import { odometerStep } from "./odometer.js";
import { button, center, el, refill } from "./parts.js";
import { summaryStep } from "./summary.js";
import { KILOMETRES } from "./units.js";
import { wheelStep } from "./wheel.js";

const UNITS_OF_NO_DEPOT = { depth: "mm", pressure: "kPa", distance: "km" };

export class Walk {
  // root is what the walk is drawn into, me who inspects, entry what was entered so
  // far. arrive is called with the entry's id once it waits to be sent.
  constructor(root, vehicle, me, entry, arrive) {
    Object.assign(this, { root, vehicle, me, arrive });
    this.looks = [...me.feel, ...me.look, ...me.rest];
    this.lastStep = vehicle.places.length + 1; // the summary
    this.usesKeyboard = false; // the phone's own, instead of our keys
    this.wasBegun = entries.isBegun(entry);
    this.takeUp(entry);
  }

  takeUp(entry) {
    // What was typed in one unit is not read in another.
    if (!entry.units || !entries.isBegun(entry)) {
      const depot = this.me.depots.find((one) => one.id === this.vehicle.depot);
      entry.units = depot?.units || UNITS_OF_NO_DEPOT;
    }
    this.units = entry.units;

    entry.step = Math.min(entry.step, this.lastStep) || this.firstStep;
    this.entry = entry;
  }

  // visit is what the check of a wheel needs to know of the whole; see check.place.
  get visit() {
    const { units, looks, me, vehicle, entry } = this;
    const odometer = entry.unknown ? NaN : Number.parseFloat(entry.odometer.replaceAll(",", ""));
    return {
      units,
      looks,
      hold: me.hold,
      use: vehicle.use,
      time: Date.parse(entry.made),
      km: Number.isNaN(odometer) ? null : odometer * KILOMETRES[units.distance],
    };
  }

  get firstStep() {
    return this.vehicle.no_odometer ? 1 : 0;
  }

  save() {
    return entries.save(this.entry);
  }

  go(step) {
    this.entry.step = Math.max(0, Math.min(this.lastStep, step));
    this.save();
    this.draw();
    scrollTo(0, 0);
    this.root.querySelector("h2")?.focus({ preventScroll: true });
  }

  draw() {
    const { number, what, row } = this.vehicle;
    const where = row ? ` · row ${row}` : "";
    const heading = el("h1", { className: "walk-name" }, "Inspect " + number, el("small", {}, ` ${what}${where}`));
    const restored = this.wasBegun ? this.restored() : "";
    refill(this.root, [heading, restored, this.route(), this.step()], "h2");
    center(this.root);
  }

  step() {
    const { step } = this.entry;
    if (step === 0) return odometerStep(this);
    if (step === this.lastStep) return summaryStep(this);
    return wheelStep(this, this.vehicle.places[step - 1]);
  }

  restored() {
    const startEmpty = async () => {
      await entries.drop(this.entry);
      this.wasBegun = false;
      this.takeUp(entries.start(this.me, this.vehicle));
      this.go(this.firstStep);
    };
    return el(
      "p",
      { className: "kept", id: "kept", role: "status" },
      "What you entered earlier on this vehicle is still here. ",
      button({ className: "quiet", onclick: startEmpty }, "Start empty"),
    );
  }

  // route is the way around the vehicle; a tap jumps.
  route() {
    const stop = (text, step, isDone) =>
      button(
        {
          className: "stop" + (isDone ? " done" : ""),
          onclick: () => this.go(step),
          "aria-current": this.entry.step === step ? "step" : null,
        },
        text,
      );
    const { unknown, odometer, places } = this.entry;
    return el(
      "nav",
      { className: "route", "aria-label": "Way around the vehicle" },
      stop("Odometer", 0, unknown || odometer),
      this.vehicle.places.map((at, i) => stop(at.at, i + 1, places[at.at])),
      stop("Summary", this.lastStep, false),
    );
  }

  // foot is the row of buttons below a step.
  foot(...more) {
    const { step } = this.entry;
    const back = step > 0 ? button({ onclick: () => this.go(step - 1) }, "Back") : "";
    return el("div", { className: "walk-foot" }, back, ...more);
  }

  next(text) {
    return button({ className: "primary next", onclick: () => this.go(this.entry.step + 1) }, text);
  }

  // nextPlace is the button from one place to the next.
  nextPlace() {
    const following = this.vehicle.places[this.entry.step];
    return this.next(following ? "Next: " + following.at : "Summary");
  }
}
