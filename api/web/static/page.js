// What every page does beyond plain HTML; all of them work without it.
import * as draft from "./draft.js";

const SLOW = 1500; // milliseconds, after which a page says that it is still sending

dropRecordedDraft();
showWhereWeAre();
for (const button of document.querySelectorAll("button[data-print]")) offerPrint(button);
document.addEventListener("submit", saySlow);

// What was refused is read first.
document.getElementById("refusal")?.focus();

// A recorded entry needs no copy on this device any more.
function dropRecordedDraft() {
  const wasRecorded = new URLSearchParams(location.search).has("said");
  const vehicle = /^\/vehicles\/([0-9a-f-]+)$/.exec(location.pathname);
  if (wasRecorded && vehicle) draft.drop("inspect-" + vehicle[1]);
}

// On a narrow screen the navigation runs off to the side: it begins at our entry.
function showWhereWeAre() {
  const entry = document.querySelector("nav [aria-current]");
  if (!entry) return;
  const row = entry.closest("ul");
  row.scrollLeft = entry.offsetLeft - row.offsetLeft - (row.clientWidth - entry.clientWidth) / 2;
}

function offerPrint(button) {
  button.hidden = false;
  button.addEventListener("click", () => print());
}

// What takes a while says so. The form's own number makes one record of two presses.
function saySlow(event) {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;

  const status = document.createElement("p");
  status.setAttribute("role", "status");
  form.append(status);
  const timer = setTimeout(() => {
    status.textContent = "Still sending. Leave this page open; what you typed is not lost.";
  }, SLOW);

  const cleanUp = () => {
    clearTimeout(timer);
    status.remove();
  };
  addEventListener("pagehide", cleanUp, { once: true });
}
