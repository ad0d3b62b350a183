// A note on a wheel and up to four photos of it.
import * as keep from "./keep.js";
import { button, el } from "./parts.js";

const MOST_PHOTOS = 4;
const LONGEST_SIDE = 1600; // pixels
const MOST_BYTES = 690000; // the server takes a little more

// noteAndPhotos is the field for the note, the button for the camera and what was
// photographed. wheel is the step that it stands in.
export function noteAndPhotos(wheel) {
  const typed = wheel.typed;
  const photos = typed.photos || [];
  const note = el("input", {
    value: typed.note || "",
    maxLength: 500,
    autocomplete: "off",
    oninput: () => wheel.set({ note: note.value }),
  });
  const fault = el("p", { className: "fault", role: "alert" });
  const camera = el("input", {
    type: "file",
    accept: "image/*",
    className: "hide",
    "aria-label": "Photo of " + wheel.at.at,
    onchange: () => add(wheel, photos, camera.files[0], fault),
  });
  camera.setAttribute("capture", "environment");

  const text = photos.length > 0 ? `Photo (${photos.length})` : "Photo";
  const press = button({ disabled: photos.length >= MOST_PHOTOS, onclick: () => camera.click() }, text);
  return el(
    "div",
    { className: "note-photo" },
    el("label", {}, "Note", note),
    press,
    camera,
    thumbnails(wheel, photos),
    fault,
  );
}

async function add(wheel, photos, file, fault) {
  try {
    const id = keep.newID();
    const { me, vehicle } = wheel.walk;
    await keep.put("photos", { id, user: me.id, vehicle: vehicle.id, blob: await downscaled(file) });
    await wheel.set({ photos: [...photos, id] });
    wheel.draw();
  } catch {
    fault.textContent = "This file is no picture that the phone can read. Take a photo, or choose a JPEG or PNG.";
  }
}

async function remove(wheel, photos, id) {
  await wheel.set({ photos: photos.filter((other) => other !== id) });
  await keep.drop("photos", id);
  wheel.draw();
}

function thumbnails(wheel, photos) {
  const row = el("div", { className: "thumbs" });
  photos.forEach(async (id, i) => {
    const photo = await keep.get("photos", id);
    if (!photo) return;

    const address = URL.createObjectURL(photo.blob);
    const image = el("img", {
      src: address,
      alt: `photo ${i + 1} of ${wheel.at.at}`,
      onload: () => URL.revokeObjectURL(address),
    });
    const removeIt = button({ className: "quiet", onclick: () => remove(wheel, photos, id) }, "Remove");
    row.append(el("figure", {}, image, removeIt));
  });
  return row;
}

// downscaled redraws a picture as a smaller JPEG: small enough to send from a
// yard, and without what the camera noted about it.
async function downscaled(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
  const [width, height] = [picture.width, picture.height].map((side) => Math.round(side * scale));
  const canvas = el("canvas", { width, height });
  canvas.getContext("2d").drawImage(picture, 0, 0, width, height);
  picture.close();

  for (const quality of [0.8, 0.6, 0.4]) {
    const blob = await encoded(canvas, quality);
    if (blob.size <= MOST_BYTES) return blob;
  }
  return encoded(canvas, 0.2);
}

function encoded(canvas, quality) {
  return new Promise((done, fail) => {
    const take = (blob) => (blob ? done(blob) : fail(new Error("the picture could not be read")));
    canvas.toBlob(take, "image/jpeg", quality);
  });
}
