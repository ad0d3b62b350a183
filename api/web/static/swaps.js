// What htmx leaves to a page: failures are told, and addresses stay short.
"use strict";
(() => {
  const trouble = document.createElement("section");
  trouble.id = "trouble";
  trouble.ariaLabel = "What went wrong";
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
  // An error comes as a page that says what to do.
  addEventListener("htmx:beforeSwap", ({ detail: { xhr } }) => {
    const page = new DOMParser().parseFromString(xhr.status < 400 ? "" : xhr.responseText, "text/html");
    const lines = [...page.querySelectorAll(".problem :is(h1, p, li)")].map((e) => e.textContent);
    if (xhr.status < 400) tell();
    else if (lines.length > 0) tell(...lines);
    else tell(`The server could not answer (${xhr.status}).`, stale);
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
