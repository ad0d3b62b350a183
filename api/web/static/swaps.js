// What htmx leaves to a page: failures are told, and addresses stay short.
"use strict";
(() => {
  const trouble = document.createElement("section");
  trouble.id = "trouble";
  trouble.setAttribute("aria-label", "What went wrong");
  trouble.innerHTML = '<div role="alert"></div><button type="button" class="quiet">Close</button>';
  document.getElementById("main").append(trouble);
  const tell = (...lines) => trouble.firstChild.replaceChildren(...lines.map((text) => {
    const p = document.createElement("p");
    p.textContent = text;
    return p;
  }));
  trouble.lastChild.addEventListener("click", () => tell());
  const stale = "What stands here is from before. Try again in a moment.";
  addEventListener("htmx:sendError", () => tell("There is no network.", stale));
  addEventListener("htmx:timeout", () => tell("The server did not answer in time.", stale));
  // An error comes as a page that says what to do; a form that was refused, as itself.
  addEventListener("htmx:beforeSwap", ({ detail }) => {
    const { status, responseText } = detail.xhr, by = detail.requestConfig.elt;
    const page = new DOMParser().parseFromString(status < 400 ? "" : responseText, "text/html");
    const lines = [...page.querySelectorAll(".problem :is(h1, p, li)")].map((e) => e.textContent);
    if (status < 400 || (status === 422 && lines.length === 0)) return tell();
    detail.shouldSwap = false;
    if (status === 401 && by.method === "post") return by.submit(); // asks to sign in, with what was typed
    return lines.length > 0 ? tell(...lines) : tell(`The server could not answer (${status}).`, stale);
  });
  // What was pressed may be gone: the focus goes to what came in its place.
  addEventListener("htmx:afterSettle", ({ detail }) => {
    if (document.activeElement === document.body) detail.target?.focus({ preventScroll: true });
  });

  addEventListener("htmx:configRequest", ({ detail }) => {
    detail.headers.Accept = "text/html";
    if (detail.verb !== "get") return;
    for (const [name, value] of [...detail.formData]) if (value === "") detail.formData.delete(name);
  });
  // A search that is still being typed is one step for the back button.
  let last;
  addEventListener("htmx:beforeHistoryUpdate", ({ detail }) => {
    const by = detail.requestConfig.triggeringEvent?.target;
    if ((by === last && by?.type === "search") || detail.history.path === location.pathname + location.search) detail.history.type = "replace";
    last = by;
  });
})();
