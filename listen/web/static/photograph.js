// Makes a chosen picture small before it is sent, and says at once if it cannot be read.

const form = document.querySelector("[data-photograph]");
if (form) smaller(form);

function smaller(form) {
  const field = form.elements.file;
  const told = form.querySelector("[data-told]");
  const longest = Number(form.dataset.longest);
  const usual = told.textContent;
  field.addEventListener("change", async () => {
    const chosen = field.files[0];
    field.setCustomValidity("");
    told.textContent = usual;
    if (!chosen) return;
    try {
      const small = await reduced(chosen, longest);
      if (small.size >= chosen.size && chosen.size <= Number(form.dataset.largest)) return;
      const files = new DataTransfer();
      files.items.add(new File([small], "photograph.jpg", { type: "image/jpeg" }));
      field.files = files.files;
    } catch {
      told.textContent = "That file is not a picture that can be read: choose a PNG, JPEG or WebP file.";
      field.setCustomValidity(told.textContent);
    }
  });
}

/** The picture as a JPEG of at most `longest` pixels a side. */
async function reduced(file, longest) {
  const picture = await createImageBitmap(file);
  const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  const pen = canvas.getContext("2d");
  pen.fillStyle = "white";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const made = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.9));
  if (!made) throw new Error("no picture");
  return made;
}
