// The steps to begin with are those of the procedure that is chosen.

const procedure = document.getElementById("procedure");
const begin = document.getElementById("begin");

function fit() {
  for (const group of begin?.querySelectorAll("optgroup") ?? []) {
    const other = group.dataset.procedure !== procedure.value;
    group.hidden = group.disabled = other;
    if (other && group.contains(begin.selectedOptions[0])) begin.value = "";
  }
}

procedure?.addEventListener("change", fit);
if (procedure) fit();
