// The bench works itself out after each change; without this, a button does.
"use strict";

for (const form of document.querySelectorAll("form[data-work]")) {
  let waiting = 0;
  let asked = 0;
  // Each worked-out part has a place of the same id; what was opened stays open.
  const show = (html) => {
    const parts = document.createElement("template");
    parts.innerHTML = html;
    for (const part of [...parts.content.children]) {
      const place = document.getElementById(part.id);
      if (!place) continue;
      const open = [...place.querySelectorAll("details[open]")].map((d) => d.id);
      place.replaceChildren(...part.childNodes);
      for (const d of place.querySelectorAll("details")) d.open = open.includes(d.id);
    }
  };
  const work = async () => {
    const mine = ++asked;
    const body = new URLSearchParams(new FormData(form));
    body.set("do", "part");
    try {
      const answer = await fetch(form.getAttribute("action"), { method: "POST", body });
      const text = await answer.text();
      if (answer.ok && mine === asked) show(text);
    } catch { /* no network: the button says so when it is pressed */ }
  };
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(work, 250);
  });
}
