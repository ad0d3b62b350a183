// The plain form of an inspection: what is typed outlives a reload, and a depth
// that wants a second look is named while the gauge is still in the hand.
import { UNEQUAL } from "./around.js";
import * as check from "./check.js";
import * as draft from "./draft.js";
import * as numeral from "./numeral.js";
import { KILOMETRES } from "./units.js";

const DAY = 24 * 60 * 60 * 1000; // milliseconds, after which a draft is not put back

const form = document.querySelector("form[data-keep]");
if (form) {
  const refused = document.getElementById("refusal");
  if (!refused) putBack();
  form.addEventListener("input", save);
  form.addEventListener("submit", save);
  document.getElementById("forget")?.addEventListener("click", startEmpty);

  for (const wheel of form.querySelectorAll("fieldset[data-place]")) {
    wheel.addEventListener("change", () => remark(wheel));
  }
}

function fields() {
  return [...form.elements].filter((field) => field.name && field.type !== "hidden");
}

function save() {
  const kept = {};
  for (const field of fields()) {
    if (field.type !== "checkbox") {
      if (field.value !== "") kept[field.name] = [field.value];
    } else if (field.checked) {
      kept[field.name] ||= [];
      kept[field.name].push(field.value);
    }
  }

  const { id, made } = form.elements;
  const { reads } = document.body.dataset;
  draft.save(form.dataset.keep, { at: Date.now(), reads, id: id.value, made: made.value, kept });
}

// putBack fills the form from its draft, unless that is old or was typed in other
// units: 8 in 32nds is no 8 mm.
function putBack() {
  const before = draft.load(form.dataset.keep);
  if (!before || Date.now() - before.at >= DAY || Object.keys(before.kept).length === 0) return;
  if (before.reads && before.reads !== document.body.dataset.reads) return;

  for (const field of fields()) {
    const values = before.kept[field.name];
    if (!values) continue;
    if (field.type === "checkbox") field.checked = values.includes(field.value);
    else field.value = values[0];
  }

  // The same entry keeps its number and its moment.
  form.elements.id.value = before.id;
  form.elements.made.value = before.made;

  const note = document.getElementById("kept");
  if (note) note.hidden = false;
}

function startEmpty() {
  draft.drop(form.dataset.keep);
  location.reload();
}

// remark says beside a wheel what its values want. The server decides.
function remark(wheel) {
  const place = JSON.parse(wheel.dataset.place);
  const { value } = form.elements.stations;
  const unequal = value === "unequal";
  const asked = unequal ? UNEQUAL.length : Number(value);
  const typed = { d: {}, around: 1, unequal };
  for (const field of wheel.querySelectorAll("input")) {
    const [, groove, station] = /\.d(\d+)\.(\d+)$/.exec(field.name) || [];
    const text = numeral.plain(field.value.trim());
    if (station !== undefined && text) {
      typed.d[`${groove}.${station}`] = text;
      typed.around = Math.max(typed.around, asked, Number(station) > 0 && asked === 1 ? 8 : 1);
    }
    if (field.name.endsWith(".pressure")) typed.p = text;
  }

  const remarks = check.place(place, typed, visit());
  wheel.querySelector(".hint").textContent = remarks.map((one) => one.text).join(" ");
}

// visit is what the check of a wheel needs to know of the whole; see check.place.
function visit() {
  const about = JSON.parse(form.dataset.visit);
  const { at, made, odometer } = form.elements;
  const number = Number.parseFloat(numeral.plain(odometer.value).replaceAll(",", ""));
  const isKnown = !Number.isNaN(number) && !form.elements.odometer_unknown.checked;
  return {
    ...about,
    looks: [],
    time: Date.parse(at.value || made.value),
    km: isKnown ? number * KILOMETRES[about.units.distance] : null,
    estimated: form.elements.odometer_estimated.checked,
  };
}
