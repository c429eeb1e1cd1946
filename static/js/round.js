// Turns the round's long form into one station a screen with a large number pad. What is typed is kept on the
// phone until the round is stored, so that a closed page or a dead spot loses nothing.
const form = document.querySelector("[data-round]");
const find = (name) => form.querySelector(`[data-round-${name}]`);
const draftName = form && `round-${form.dataset.job}`;

function restore() {
  const draft = JSON.parse(localStorage.getItem(draftName) ?? "null");
  if (!draft || form.querySelector(".field-wrong, .form-errors")) return;
  if (form.dataset.stored.includes(draft.key)) return localStorage.removeItem(draftName);
  form.querySelector("[data-round-kept]").hidden = false;
  for (const [name, value] of Object.entries(draft)) {
    const field = form.elements[name];
    if (field) field.value = value;
  }
}

function keep() {
  const typed = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken");
  localStorage.setItem(draftName, JSON.stringify(Object.fromEntries(typed)));
}

function start() {
  const steps = [...form.querySelectorAll("[data-round-step]")];
  const pad = form.querySelector("[data-round-pad]");
  const wrong = steps.findIndex((step) => step.querySelector(".field-wrong"));
  let here = Math.max(wrong, 0);
  let target = null;
  restore();
  // The pad is larger than any phone's own keys, which would only cover it.
  form.querySelectorAll('input[inputmode="decimal"]').forEach((field) => (field.inputMode = "none"));
  find("steps").hidden = false;

  function show(step) {
    here = Math.min(Math.max(step, 0), steps.length - 1);
    steps.forEach((each, number) => (each.hidden = number !== here));
    pad.hidden = false;
    target = steps[here].querySelector('input[name^="reading_"]') ?? steps[here].querySelector('input[inputmode="none"]');
    find("back").disabled = here === 0;
    find("next").hidden = here === steps.length - 1;
    find("send").hidden = here !== steps.length - 1;
    find("count").textContent = here === 0 ? `Air, then ${steps.length - 1} stations` : `Station ${here} of ${steps.length - 1} in this round`;
    steps[here].querySelector("legend").scrollIntoView({ block: "nearest" });
  }

  function press(key) {
    if (!target) return;
    target.value = key === "back" ? target.value.slice(0, -1) : target.value + key;
    const value = target.closest("[data-round-step]").querySelector('input[value="value"]');
    if (value) value.checked = true;
    keep();
  }

  form.addEventListener("focusin", (event) => event.target.matches('input[inputmode="none"]') && (target = event.target));
  form.addEventListener("input", keep);
  pad.addEventListener("click", (event) => press(event.target.closest("button")?.dataset.padKey ?? ""));
  find("back").addEventListener("click", () => show(here - 1));
  find("next").addEventListener("click", () => show(here + 1));
  show(here);
}

if (form) start();
