// What the pages do beyond plain HTML; every page works without it.
"use strict";

// Entry that was typed and not sent is kept on this device, a field at a time.
for (const form of document.querySelectorAll("form[data-keep]")) {
  const key = "rimledger:" + form.dataset.keep;
  const note = document.getElementById("kept");
  const held = document.getElementById("refusal");
  const fields = () => [...form.elements].filter((f) => f.name && f.type !== "hidden");
  const read = () => {
    try { return JSON.parse(localStorage.getItem(key)) || null; } catch { return null; }
  };
  const save = () => {
    const kept = {};
    for (const f of fields()) {
      if (f.type === "checkbox") { if (f.checked) (kept[f.name] ||= []).push(f.value); }
      else if (f.value !== "") kept[f.name] = [f.value];
    }
    try { localStorage.setItem(key, JSON.stringify({ at: Date.now(), id: form.elements.id.value, made: form.elements.made.value, kept })); } catch { /* storage is full or off */ }
  };
  const was = read();
  const day = 24 * 60 * 60 * 1000;
  if (!held && was && Date.now() - was.at < day && Object.keys(was.kept).length > 0) {
    for (const f of fields()) {
      const values = was.kept[f.name];
      if (!values) continue;
      if (f.type === "checkbox") f.checked = values.includes(f.value);
      else f.value = values[0];
    }
    form.elements.id.value = was.id; // the same entry keeps its number and its moment
    form.elements.made.value = was.made;
    if (note) note.hidden = false;
  }
  form.addEventListener("input", save);
  form.addEventListener("submit", save);
  document.getElementById("forget")?.addEventListener("click", () => {
    localStorage.removeItem(key);
    location.reload();
  });
}

// A recorded entry needs no copy here any more.
if (new URLSearchParams(location.search).has("said")) {
  const vehicle = location.pathname.match(/^\/vehicles\/([0-9a-f-]+)$/);
  if (vehicle) localStorage.removeItem("rimledger:inspect-" + vehicle[1]);
}

// A depth far from last time is asked about while the gauge is still in the hand.
for (const input of document.querySelectorAll("input[data-last]")) {
  const form = input.closest("form");
  const hint = input.closest("fieldset.wheel")?.querySelector(".hint");
  if (!hint || !input.dataset.last) continue;
  input.addEventListener("change", () => {
    const n = parseFloat(input.value);
    const mm = form.dataset.unit === "32nd" || input.value.includes("/32") ? n * 25.4 / 32 : n;
    const rise = mm - parseFloat(input.dataset.last);
    hint.textContent = rise >= 2 * 25.4 / 32 ? "Deeper than last time: measure again before you go on." : "";
  });
}

// What was refused is read first.
document.getElementById("refusal")?.focus();
