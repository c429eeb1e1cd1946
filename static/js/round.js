// Turns the round's long form into one station a screen with a large number pad, for one gloved thumb.
import { forget, keep, restore } from "./draft.js";

function start(form) {
  const find = (name) => form.querySelector(`[data-round-${name}]`);
  const draft = `round-${form.dataset.job}`;
  const steps = [...form.querySelectorAll("[data-round-step]")];
  const last = steps.length - 1;
  let here = 0;
  let target = null;

  // Where the pad writes: always the field that has, or last had, the focus.
  function aim(field) {
    target?.removeAttribute("data-round-target");
    target = field;
    target.setAttribute("data-round-target", "");
    const minus = find("minus"); // none in Fahrenheit: nobody dries a coach below zero there
    if (minus) minus.hidden = !field.name.includes("temp");
  }

  function show(step) {
    here = Math.min(Math.max(step, 0), last);
    steps.forEach((each, number) => (each.hidden = number !== here));
    const field = 'input[inputmode="none"]';
    aim(steps[here].querySelector(`.field-wrong ${field}`) ?? steps[here].querySelector(field));
    find("back").disabled = here === 0;
    find("next").hidden = here === last;
    find("send").hidden = here !== last;
    find("count").textContent = here === 0 ? `Air first, then ${last} station${last === 1 ? "" : "s"}` : `${here} of ${last} in this round`;
  }

  function scrollToStep() {
    steps[here].querySelector("legend").scrollIntoView({ block: "start" });
  }

  function go(step) {
    show(step);
    scrollToStep();
    target.focus({ preventScroll: true });
  }

  // A number and "too wet" exclude each other: the later one counts. A number put aside comes back with "a value".
  function settle(field) {
    const step = field.closest("[data-round-step]");
    const number = step.querySelector('input[name^="reading_"]');
    if (!number || field.type === "checkbox") return;
    if (field === number) step.querySelector('[type="radio"][value="value"]').checked = true;
    else if (field.value === "value") number.value ||= number.dataset.aside ?? "";
    else if (number.value) [number.dataset.aside, number.value] = [number.value, ""];
  }

  function press(key) {
    const text = target.value;
    if ((key === "." && text.includes(".")) || (key === "back" && !text)) return;
    if (key === "back") target.value = text.slice(0, -1);
    else if (key === "minus") target.value = text.startsWith("-") ? text.slice(1) : `-${text}`;
    else target.value = text + key;
    target.dispatchEvent(new Event("input", { bubbles: true }));
  }

  // The pad is larger than any phone's own keys, which would only cover it.
  form.querySelectorAll('input[inputmode="decimal"]').forEach((field) => (field.inputMode = "none"));
  if (!form.querySelector("[role=alert]")) find("kept").hidden = !restore(form, draft, form.dataset.stored);
  for (const name of ["pad", "back"]) find(name).hidden = false;

  form.addEventListener("focusin", ({ target: field }) => field.matches('input[inputmode="none"]') && aim(field));
  form.addEventListener("input", ({ target: field }) => {
    settle(field);
    keep(form, draft);
  });
  // A refusal by the browser itself, or a way to a mistake from the list above the form, opens the step it lies in.
  form.addEventListener("invalid", () => show(steps.findIndex((step) => step.querySelector("input:invalid"))), true);
  form.addEventListener("click", (event) => {
    const to = event.target.closest("[role=alert] a")?.hash.slice(1);
    if (to) show(steps.indexOf(document.getElementById(to)?.closest("[data-round-step]")));
  });
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || here === last || !event.target.matches("input")) return;
    event.preventDefault(); // or it would store a round half read
    go(here + 1);
  });
  find("pad").addEventListener("mousedown", (event) => event.preventDefault()); // the focus stays in the field
  find("pad").addEventListener("click", ({ target: key }) => key.closest("button") && press(key.closest("button").dataset.padKey));
  find("back").addEventListener("click", () => go(here - 1));
  find("next").addEventListener("click", () => go(here + 1));
  find("afresh").addEventListener("click", () => {
    forget(draft);
    location.reload();
  });
  // A page out of the browser's memory does not know what has been stored since.
  window.addEventListener("pageshow", (event) => event.persisted && location.reload());
  show(Math.max(steps.findIndex((step) => step.querySelector(".field-wrong")), 0));
  // One jump to confirm: its tick is not to lie behind the pad. With more mistakes the list of them comes first.
  if (form.querySelectorAll("[role=alert] li").length === 1 && steps[here].querySelector(".round-sure")) scrollToStep();
}

document.querySelectorAll("form[data-round]").forEach(start);
