// The walk around one vehicle: odometer, each place in walking order, summary.
"use strict";

class Walk {
  constructor(root, vehicle, me, entry, arrive) {
    Object.assign(this, { root, vehicle, me, entry, arrive });
    if (!entry.units || !entries.begun(entry)) entry.units = me.depots.find((d) => d.id === vehicle.depot)?.units || { depth: "mm", pressure: "kPa", distance: "km" };
    this.units = entry.units; // what was typed in one unit is not read in another
    this.looks = [...me.feel, ...me.look, ...me.rest];
    this.last = vehicle.places.length + 1; // step of the summary
    this.kept = entries.begun(entry);
    entry.step = Math.min(entry.step, this.last);
    if (entry.step === 0 && vehicle.no_odometer) entry.step = 1;
  }

  save() { return entries.save(this.entry); }

  go(step) {
    this.entry.step = Math.max(0, Math.min(this.last, step));
    this.active = null;
    this.save();
    this.draw();
    scrollTo(0, 0);
    this.root.querySelector("h2")?.focus({ preventScroll: true });
  }

  draw() {
    const step = this.entry.step;
    const inside = step === 0 ? this.start() : step === this.last ? this.summary() : this.wheel(this.vehicle.places[step - 1]);
    refill(this.root, [
      el("h1", { className: "walk-name" }, "Inspect " + this.vehicle.number, el("small", {}, ` ${this.vehicle.what}${this.vehicle.row ? " · row " + this.vehicle.row : ""}`)),
      this.kept ? this.restored() : "", this.route(), inside], "h2");
    center(this.root);
  }

  restored() {
    return el("p", { className: "kept", id: "kept", role: "status" }, "What you entered earlier on this vehicle is still here. ",
      el("button", { type: "button", className: "quiet", onclick: async () => {
        await entries.drop(this.entry);
        this.kept = false;
        this.entry = entries.start(this.me, this.vehicle);
        this.go(this.vehicle.no_odometer ? 1 : 0);
      } }, "Start empty"));
  }

  // route is the way around the vehicle; a tap jumps.
  route() {
    const stop = (text, step, done) => el("button", { type: "button", className: "stop" + (done ? " done" : ""), onclick: () => this.go(step),
      "aria-current": this.entry.step === step ? "step" : null }, text);
    const nav = el("nav", { className: "route", "aria-label": "Way around the vehicle" },
      stop("Odometer", 0, this.entry.unknown || this.entry.odometer),
      this.vehicle.places.map((at, i) => stop(at.at, i + 1, this.entry.places[at.at])), stop("Summary", this.last, false));
    return nav;
  }

  foot(...more) {
    const step = this.entry.step;
    return el("div", { className: "walk-foot" }, step > 0 ? el("button", { type: "button", onclick: () => this.go(step - 1) }, "Back") : "", ...more);
  }

  next(text) {
    return el("button", { type: "button", className: "primary next", onclick: () => this.go(this.entry.step + 1) }, text);
  }

  start() {
    const unit = this.units.distance;
    const shown = el("input", { className: "shown", id: "odometer", inputMode: "none", autocomplete: "off", value: numeral.shown(this.entry.odometer), "aria-label": "Odometer, " + unit,
      oninput: () => { this.entry.odometer = numeral.plain(shown.value); this.entry.unknown = false; this.save(); } });
    const unknown = el("button", { type: "button", className: "choice", "aria-pressed": String(this.entry.unknown), onclick: () => {
      Object.assign(this.entry, { unknown: true, odometer: "" });
      this.go(1);
    } }, "Odometer unknown");
    const around = [1, 3, 8].map((n) => el("button", { type: "button", className: "choice", "aria-pressed": String(this.entry.around === n),
      onclick: () => { this.entry.around = n; this.save(); this.draw(); } }, n === 1 ? "1 place" : n + " places"));
    return el("section", {}, el("h2", { tabIndex: -1 }, "Odometer"), el("p", { className: "last" }, this.vehicle.odometer ? "Last " + this.vehicle.odometer : "Not known so far"),
      el("p", { className: "value-line" }, shown, el("span", { className: "unit" }, unit)),
      digits(this.entry.odometer, unit, (t) => { shown.value = numeral.shown(this.entry.odometer = t); this.entry.unknown = false; this.save(); }, () => this.go(1), false),
      unknown,
      el("fieldset", { className: "choices" }, el("legend", {}, "Places around each tire"), around),
      el("p", { className: "small" }, "Walk from the left front down the left side, up the right side, then the spares. Left is the driver's left. One place at the valve is the quick way; when you feel cups you want 8."),
      el("p", { className: "small" }, el("a", { href: "?plain=1" }, "Use the plain form instead")),
      this.foot(this.next("Start at " + this.vehicle.places[0].at)));
  }

  typed(at) { return this.entry.places[at.at] || {}; }

  // set changes what was entered at a place.
  set(at, change) {
    this.entry.places[at.at] = { around: this.entry.around, ...this.typed(at), ...change };
    return this.save();
  }

  // fields of a place in the order of measuring: each place around the tire from
  // the outer groove to the inner one, then the pressure.
  fields(at) {
    const around = this.typed(at).around || this.entry.around, out = [];
    for (let k = 0; k < around; k++) {
      at.grooves.forEach((name, g) => out.push({ key: `${g}.${k}`, label: name, k }));
    }
    out.push({ key: "p", label: "pressure" });
    return out;
  }

  value(at, key) { const t = this.typed(at); return (key === "p" ? (t.nr ? "n/r" : t.p) : t.d?.[key]) || ""; }

  write(at, key, text) {
    if (key === "p") return this.set(at, { p: text, nr: false });
    const d = { ...this.typed(at).d };
    if (text) d[key] = text; else delete d[key];
    return this.set(at, { d });
  }

  wheel(at) {
    if (!at.tire) return this.noTire(at);
    const section = el("section", { className: "wheel-step" });
    const draw = () => { refill(section, this.wheelParts(at, draw), ".pad button"); center(section); };
    draw();
    return section;
  }

  wheelParts(at, draw) {
    const fields = this.fields(at), typed = this.typed(at);
    this.active = fields.some((f) => f.key === this.active) ? this.active : (fields.find((f) => !this.value(at, f.key)) || fields.at(-1)).key;
    const hint = el("p", { className: "hint" });
    const judge = () => {
      const said = check.place(at, this.typed(at), this.units, this.looks);
      hint.classList.toggle("off", said.some((s) => s.off));
      hint.textContent = said.map((s) => s.text).join(" ");
      aloud(hint.textContent);
    };
    judge();
    const onward = () => { this.active = fields.find((f) => !this.value(at, f.key))?.key || this.active; this.digitwise = false; draw(); };
    const pads = el("div", {}, this.pad(at, fields, onward, draw));
    // turn gives the pad to a field that was touched, which keeps the focus.
    const turn = (key) => {
      if (this.active === key) return;
      this.active = key;
      this.digitwise = false;
      for (const label of this.root.querySelectorAll(".readout")) label.classList.toggle("active", label.dataset.field === key);
      pads.replaceChildren(this.pad(at, fields, onward, draw));
    };
    const see = (look) => choice(look, typed.see?.[look.code], (of) => {
      const now = { ...typed.see };
      if (of) now[look.code] = of; else delete now[look.code];
      const more = look.code === "cupping" && of && (typed.around || this.entry.around) === 1 ? { offer8: true } : {};
      this.set(at, { see: now, ...more });
      draw();
    });
    return [
      el("h2", { tabIndex: -1 }, at.at, el("small", {}, ` ${at.role} · tire ${at.tire}`)),
      el("p", { className: "last" }, at.last ? `Last ${at.last_on}: ${at.last.map(unbroken).join(", ")}` : "Never measured", at.last_pressure ? ` · ${unbroken(at.last_pressure)}` : ""),
      this.readouts(at, fields, judge, turn, draw),
      hint, pads,
      this.around(at, draw),
      el("fieldset", { className: "choices" }, el("legend", {}, "Feel"), this.me.feel.map(see)),
      el("fieldset", { className: "choices" }, el("legend", {}, "Look"), this.me.look.map(see)),
      el("details", { open: this.me.rest.some((l) => typed.see?.[l.code]) }, el("summary", {}, "More that can be seen"), el("div", { className: "choices" }, this.me.rest.map(see))),
      this.noteAndPhotos(at, draw),
      this.foot(this.next(this.entry.step + 1 === this.last ? "Summary" : "Next: " + this.vehicle.places[this.entry.step].at)),
    ];
  }

  // readouts are the fields at one place around the tire, beside the pressure.
  readouts(at, fields, judge, turn, draw) {
    const around = (fields.length - 1) / at.grooves.length;
    const k = this.active === "p" ? around - 1 : Number(this.active.split(".")[1]);
    const shown = fields.filter((f) => f.key === "p" || f.key.endsWith("." + k));
    const row = el("div", { className: "readouts" }, shown.map((f) => this.readout(at, f, judge, turn)));
    row.style.gridTemplateColumns = `repeat(${shown.length}, minmax(0, 1fr))`;
    if (around === 1) return row;
    const full = (i) => at.grooves.every((_, g) => this.value(at, `${g}.${i}`));
    const stops = Array.from({ length: around }, (_, i) => el("button", { type: "button", className: "stop" + (full(i) ? " done" : ""), "aria-current": i === k ? "step" : null,
      onclick: () => { this.active = "0." + i; this.digitwise = false; draw(); } }, `${(i * 360) / around}°`));
    return el("div", {}, el("div", { className: "route", role: "group", "aria-label": "Places around the tire, clockwise from the valve" }, stops), row);
  }

  readout(at, field, judge, turn) {
    const unit = field.key === "p" ? this.units.pressure : this.units.depth;
    const input = el("input", { inputMode: this.native ? "decimal" : "none", autocomplete: "off", value: numeral.shown(this.value(at, field.key)), name: `${at.at} ${field.key}`,
      "aria-label": `${field.label}${field.k ? ` at place ${field.k + 1}` : ""}, ${unitWord(unit)}`, oninput: () => { this.write(at, field.key, numeral.plain(input.value.trim())); judge(); },
      onclick: () => turn(field.key), onfocus: () => turn(field.key) });
    return el("label", { className: "readout" + (this.active === field.key ? " active" : ""), "data-field": field.key }, el("span", {}, field.label), input, el("small", {}, unitWord(unit)));
  }

  pad(at, fields, onward, draw) {
    const active = this.active, isPressure = active === "p", unit = isPressure ? this.units.pressure : this.units.depth;
    const pick = (text) => { this.write(at, active, text); onward(); };
    const other = () => { this.digitwise = true; draw(); };
    const notReached = () => { this.set(at, { nr: true, p: "" }); draw(); };
    let pad;
    if (this.digitwise || (isPressure && !at.target)) {
      pad = digits(this.value(at, active).replace("n/r", ""), unit, (t) => {
        this.write(at, active, t);
        const shown = this.root.querySelector(".readout.active input");
        if (shown) shown.value = numeral.shown(t);
      }, onward, true);
      if (isPressure) pad.append(el("button", { type: "button", className: "numkey word across-all", onclick: notReached }, "not reached"));
    } else if (isPressure) {
      pad = pressurePad(unit, at.target, pick, notReached, other);
    } else {
      const size = unit === "32nd" ? 793750 : 1e6;
      pad = depthPad(unit, Math.min(26, at.new?.length ? Math.ceil(Math.max(...at.new) / size) : 20), pick, other);
    }
    const tick = (text, on, press) => el("button", { type: "button", className: "quiet", "aria-pressed": String(Boolean(on)), onclick: press }, text);
    return el("div", {}, pad, el("p", { className: "pad-more" },
      tick("Tire warm", this.typed(at).hot, () => { this.set(at, { hot: !this.typed(at).hot }); draw(); }),
      tick("Phone keyboard", this.native, () => { this.native = !this.native; draw(); if (this.native) this.root.querySelector(".readout.active input")?.focus(); })));
  }

  // around offers more places around this tire, at once when cups are felt.
  around(at, draw) {
    const typed = this.typed(at), now = typed.around || this.entry.around;
    const choose = (n) => el("button", { type: "button", "aria-pressed": String(now === n), onclick: () => {
      const d = Object.fromEntries(Object.entries(typed.d || {}).filter(([k]) => n > now || Number(k.split(".")[1]) < n));
      this.set(at, { around: n, d, offer8: false });
      this.active = null; // the next that is empty
      draw();
    } }, n === 1 ? "1 place" : n + " places");
    return el("div", { className: "pad-more" + (typed.offer8 && now === 1 ? " kept" : "") },
      typed.offer8 && now === 1 ? "Cups: measure 8 places around, from the valve clockwise seen from outside. " : "Around this tire: ", [1, 3, 8].map(choose));
  }

  noteAndPhotos(at, draw) {
    const typed = this.typed(at), photos = typed.photos || [];
    const note = el("input", { value: typed.note || "", maxLength: 500, autocomplete: "off", oninput: () => this.set(at, { note: note.value }) });
    const said = el("p", { className: "fault", role: "alert" });
    const camera = el("input", { type: "file", accept: "image/*", className: "hide", "aria-label": "Photo of " + at.at, onchange: async () => {
      try {
        const id = keep.id();
        await keep.put("photos", { id, user: this.me.id, vehicle: this.vehicle.id, blob: await downscaled(camera.files[0]) });
        await this.set(at, { photos: [...photos, id] });
        draw();
      } catch {
        said.textContent = "This file is no picture that the phone can read. Take a photo, or choose a JPEG or PNG.";
      }
    } });
    camera.setAttribute("capture", "environment");
    return el("div", { className: "note-photo" }, el("label", {}, "Note", note),
      el("button", { type: "button", disabled: photos.length >= 4, onclick: () => camera.click() }, photos.length ? `Photo (${photos.length})` : "Photo"), camera, this.thumbnails(at, photos, draw), said);
  }

  thumbnails(at, photos, draw) {
    const row = el("div", { className: "thumbs" });
    photos.forEach(async (id, i) => {
      const p = await keep.get("photos", id);
      if (!p) return;
      const address = URL.createObjectURL(p.blob);
      row.append(el("figure", {}, el("img", { src: address, alt: `photo ${i + 1} of ${at.at}`, onload: () => URL.revokeObjectURL(address) }),
        el("button", { type: "button", className: "quiet", onclick: async () => {
          await this.set(at, { photos: photos.filter((x) => x !== id) });
          await keep.drop("photos", id);
          draw();
        } }, "Remove")));
    });
    return row;
  }

  noTire(at) {
    return el("section", {}, el("h2", { tabIndex: -1 }, at.at, el("small", {}, " " + at.role)),
      el("p", { className: "empty" }, "No tire is recorded here, so nothing can be measured. ", el("a", { href: `/vehicles/${this.vehicle.id}/do/fit` }, "Record which tire stands here"), " when there is a network."),
      this.foot(this.next(this.entry.step + 1 === this.last ? "Summary" : "Next: " + this.vehicle.places[this.entry.step].at)));
  }

  // summary shows everything before it is sent.
  summary() {
    const rows = this.vehicle.places.map((at, i) => this.line(at, i + 1));
    const same = check.same(this.vehicle, this.entry, this.units);
    const note = el("textarea", { rows: 2, maxLength: 1500, value: this.entry.note, oninput: () => { this.entry.note = note.value; this.save(); } });
    const see = (look) => choice(look, this.entry.see[look.code], (of) => {
      if (of) this.entry.see[look.code] = of; else delete this.entry.see[look.code];
      this.save();
      this.draw();
    });
    const nothing = !entries.begun(this.entry) || (!Object.keys(this.entry.places).length && !this.entry.note && !Object.keys(this.entry.see).length);
    const sendIt = el("button", { type: "button", className: "primary next", id: "send", disabled: nothing || !this.me.records, onclick: () => this.finish(sendIt) }, "Send the inspection");
    return el("section", {}, el("h2", { tabIndex: -1 }, "Summary"),
      el("p", {}, "Odometer: ", this.entry.unknown || !this.entry.odometer ? "unknown" : `${numeral.grouped(this.entry.odometer)} ${this.units.distance}`),
      this.me.records ? "" : el("p", { className: "fault" }, "Your role may look, not record."),
      same >= 4 ? el("p", { className: "hint" }, `${same} wheels read exactly as last time. Measure again, or confirm after sending that these were measured today.`) : "",
      el("ul", { className: "summary" }, rows),
      el("fieldset", { className: "choices" }, el("legend", {}, "On the vehicle"), this.me.vehicle.map(see)),
      el("label", {}, "Note", note), this.foot(sendIt));
  }

  line(at, step) {
    const typed = this.entry.places[at.at];
    const said = typed ? check.place(at, typed, this.units, this.looks) : [];
    const depths = check.grid(at, typed?.d || {}, typed?.around || 1).map((row) => row.map((t) => (t ? numeral.shown(t) : "–")).join("\u00a0"));
    const parts = [];
    if (typed?.d && Object.keys(typed.d).length) parts.push(depths.join(" · ") + " " + unitWord(this.units.depth));
    if (typed?.nr) parts.push("pressure not reached"); else if (typed?.p) parts.push(numeral.shown(typed.p) + " " + this.units.pressure);
    for (const l of this.looks) if (typed?.see?.[l.code]) parts.push(l.name + (typed.see[l.code].dir ? " " + typed.see[l.code].dir : "") + (typed.see[l.code].n ? "\u00a0×\u00a0" + typed.see[l.code].n : ""));
    if (typed?.photos?.length) parts.push(typed.photos.length === 1 ? "1 photo" : typed.photos.length + " photos");
    return el("li", {}, el("button", { type: "button", className: "quiet line", onclick: () => this.go(step) }, el("b", {}, at.at), " ", parts.join(", ") || (at.tire ? "not read" : "no tire recorded")),
      said.map((s) => el("p", { className: "hint" + (s.off ? " off" : "") }, s.text)));
  }

  async finish(button) {
    button.disabled = true;
    await entries.wait(this.vehicle, this.entry, this.units);
    // With little signal the answer may take long: what is kept goes on by itself.
    await Promise.race([send.all(), new Promise((done) => setTimeout(done, keep.PATIENCE))]);
    this.arrive(this.entry.id);
  }
}
