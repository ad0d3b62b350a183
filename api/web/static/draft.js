// Entry in a plain form that was typed and not sent: kept on this device for the
// person who typed it, a draft a form.

const keyOf = (name) => `rimledger:${document.body.dataset.person}:${name}`;

// load returns a draft; null if there is none that can be read.
export function load(name) {
  try {
    return JSON.parse(localStorage.getItem(keyOf(name))) || null;
  } catch {
    return null;
  }
}

export function save(name, draft) {
  try {
    localStorage.setItem(keyOf(name), JSON.stringify(draft));
  } catch {
    // Storage is full or off: the form still works.
  }
}

export const drop = (name) => localStorage.removeItem(keyOf(name));
