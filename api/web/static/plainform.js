// The plain form of an inspection: what is typed outlives a reload, and a depth
// that wants a second look is named while the gauge is still in the hand.
import * as check from "./check.js";
import * as draft from "./draft.js";
import * as numeral from "./numeral.js";

const DAY = 24 * 60 * 60 * 1000; // milliseconds, after which a draft is not put back

const form = document.querySelector("form[data-keep]");
if (form) {
  const refused = document.getElementById("refusal");
  if (!refused) putBack();
  form.addEventListener("input", save);
  form.addEventListener("submit", save);
  document.getElementById("forget")?.addEventListener("click", startEmpty);

  const depths = form.querySelectorAll("input[data-last], input[data-legal]");
  for (const field of depths) field.addEventListener("change", () => remark(field));
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

// remark says beside a wheel what its depths want. The server decides.
function remark(field) {
  const wheel = field.closest("fieldset.wheel");
  const hint = wheel?.querySelector(".hint");
  if (!hint) return;

  const depths = [...wheel.querySelectorAll("input[data-last], input[data-legal]")]
    .map((input) => check.depth(numeral.plain(input.value), form.dataset.unit))
    .filter((length) => !Number.isNaN(length));
  const least = Math.min(...depths);

  const remarks = [];
  if (depths.length > 0 && least - Number(field.dataset.last || Infinity) >= check.RISE) {
    remarks.push("Deeper than last time: measure again before you go on.");
  }
  if (depths.length > 0 && least < Number(field.dataset.legal || 0)) {
    remarks.push("Below the legal minimum: measure again. If it stays so, the vehicle stays off the road.");
  }
  hint.textContent = remarks.join(" ");
}
