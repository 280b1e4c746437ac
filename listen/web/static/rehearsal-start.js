// The steps to begin with are those of the procedure that is chosen.

import { h } from "./dom.js";

const procedure = document.getElementById("procedure");
const begin = document.getElementById("begin");

procedure?.addEventListener("change", async () => {
  const wanted = procedure.value;
  const reply = await fetch(`/practice/rehearsal/steps?procedure=${encodeURIComponent(wanted)}`).catch(() => null);
  const steps = reply?.ok ? await reply.json() : [];
  if (procedure.value !== wanted) return;
  begin.replaceChildren(begin.options[0], ...steps.map(([id, name]) => h("option", { value: id }, name)));
  begin.value = "";
});
