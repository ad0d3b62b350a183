// What htmx leaves to a page: failures are said, and addresses stay short. htmx
// is loaded before this and speaks in events.

const STALE = "What you see here is old. Try again in a moment.";

const trouble = document.createElement("section");
trouble.id = "trouble";
trouble.setAttribute("aria-label", "What went wrong");
trouble.innerHTML = '<div role="alert"></div><button type="button" class="quiet">Close</button>';
document.getElementById("main").append(trouble);

// say shows lines about a failure; none, and the box is gone.
function say(...lines) {
  const paragraphs = lines.map((text) => {
    const paragraph = document.createElement("p");
    paragraph.textContent = text;
    return paragraph;
  });
  trouble.firstChild.replaceChildren(...paragraphs);
}

trouble.lastChild.addEventListener("click", () => say());
addEventListener("htmx:sendError", () => say("There is no network.", STALE));
addEventListener("htmx:timeout", () => say("The server did not answer in time.", STALE));
addEventListener("htmx:beforeSwap", ({ detail }) => judge(detail));
addEventListener("htmx:afterSettle", ({ detail }) => refocus(detail));
addEventListener("htmx:configRequest", ({ detail }) => shorten(detail));
addEventListener("htmx:beforeHistoryUpdate", ({ detail }) => joinSteps(detail));

// judge keeps an error out of the page. It comes as a page that says what to do;
// a form that was refused comes as itself, and is swapped in.
function judge(detail) {
  const { status, responseText } = detail.xhr;
  if (status < 400) return say();
  const page = new DOMParser().parseFromString(responseText, "text/html");
  const lines = [...page.querySelectorAll(".problem :is(h1, p, li)")].map((element) => element.textContent);
  if (status === 422 && lines.length === 0) return say();

  detail.shouldSwap = false;
  const sender = detail.requestConfig.elt;
  if (status === 401 && sender.method === "post") return sender.submit(); // asks to sign in, with what was typed
  return lines.length > 0 ? say(...lines) : say(`The server could not answer (${status}).`, STALE);
}

// What was pressed may be gone: the focus goes to what came in its place.
function refocus(detail) {
  if (document.activeElement === document.body) detail.target?.focus({ preventScroll: true });
}

// shorten leaves empty fields out of an address.
function shorten(detail) {
  detail.headers.Accept = "text/html";
  if (detail.verb !== "get") return;
  for (const [name, value] of [...detail.formData]) {
    if (value === "") detail.formData.delete(name);
  }
}

let lastTarget;

// A search that is still being typed is one step for the back button.
function joinSteps(detail) {
  const target = detail.requestConfig.triggeringEvent?.target;
  const isSameSearch = target === lastTarget && target?.type === "search";
  const isSameAddress = detail.history.path === location.pathname + location.search;
  if (isSameSearch || isSameAddress) detail.history.type = "replace";
  lastTarget = target;
}
