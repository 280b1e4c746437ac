// Says how far measuring is, and loads the page again when it is done.

const LOOK_MS = 700;
const place = document.querySelector("[data-doing]");
if (place?.dataset.doing) look();

async function look() {
  const reply = await fetch("/voice-check/recordings/state").catch(() => null);
  const told = reply?.ok ? await reply.json() : null;
  if (told && !told.doing) return location.reload();
  if (told) place.textContent = told.of ? `${told.doing}: ${told.done} of ${told.of}` : `${told.doing}…`;
  setTimeout(look, LOOK_MS);
}
