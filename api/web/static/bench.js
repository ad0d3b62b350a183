// The bench works itself out after each change; without this, a button does.
"use strict";

for (const form of document.querySelectorAll("form[data-work]")) {
  const out = document.getElementById(form.dataset.work);
  let waiting = 0;
  let asked = 0;
  const work = async () => {
    const mine = ++asked;
    const body = new URLSearchParams(new FormData(form));
    body.set("do", "part");
    try {
      const answer = await fetch(form.action, { method: "POST", body });
      const text = await answer.text();
      if (answer.ok && mine === asked) out.innerHTML = text;
    } catch { /* no network: the button says so when it is pressed */ }
  };
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(work, 250);
  });
}
