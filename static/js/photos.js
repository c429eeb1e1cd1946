// Shows the chosen photos, gathers one camera shot after another, and shrinks them before they are sent.
// Whatever fails, the original file is sent as it is: the server takes every format a phone makes.
const LONG_SIDE_PX = 1600;
const QUALITY = 0.82;

async function shrink(file) {
  try {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, LONG_SIDE_PX / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
    if (!blob || blob.size >= file.size) return file;
    return new File([blob], file.name.replace(/\.\w+$/, "") + ".jpg", { type: "image/jpeg", lastModified: file.lastModified });
  } catch {
    return file;
  }
}

function start(input) {
  let kept = []; // [{ original, file }] in the order they were chosen
  const list = document.createElement("ul");
  list.className = "photos";
  list.setAttribute("aria-label", "Photos to be sent");
  (input.closest(".field") ?? input).after(list);

  const isSame = (a, b) => a.name === b.name && a.size === b.size && a.lastModified === b.lastModified;

  function store() {
    const box = new DataTransfer();
    kept.forEach(({ file }) => box.items.add(file));
    input.files = box.files;
  }

  function card(photo, index) {
    const item = document.createElement("li");
    const image = document.createElement("img");
    const remove = document.createElement("button");
    image.alt = `Photo ${index + 1}: ${photo.original.name}`;
    image.src = URL.createObjectURL(photo.file);
    image.addEventListener("load", () => URL.revokeObjectURL(image.src), { once: true });
    image.addEventListener("error", () => image.replaceWith(unseen(photo.original.name)), { once: true });
    remove.type = "button";
    remove.className = "button";
    remove.textContent = "Take out";
    remove.setAttribute("aria-label", `Take out photo ${index + 1}`);
    remove.addEventListener("click", () => {
      kept = kept.filter((each) => each !== photo);
      update();
      input.focus();
    });
    item.append(image, remove);
    return item;
  }

  function update() {
    store();
    list.replaceChildren(...kept.map(card));
  }

  input.addEventListener("change", async () => {
    const chosen = [...input.files].filter((file) => !kept.some(({ original }) => isSame(original, file)));
    const added = chosen.map((file) => ({ original: file, file }));
    const hasLostSome = !input.files.length; // some browsers empty the field when the choice is called off
    kept = [...kept, ...added];
    if (added.length || hasLostSome || kept.length > input.files.length) update();
    for (const photo of added) {
      photo.file = await shrink(photo.original); // one after the other: a phone has little memory
    }
    if (added.length) update();
  });
}

function unseen(name) {
  const words = document.createElement("p");
  words.className = "photo-waiting";
  words.textContent = `${name} (will be sent; this browser cannot show it)`;
  return words;
}

document.querySelectorAll("input[type=file][data-photos]").forEach(start);
