// The board renews itself, but not while nobody looks or somebody writes; what was unfolded stays so.
const parts = document.querySelectorAll("[data-poll]");

function isBusy(part) {
  const active = document.activeElement;
  return document.hidden || (part.contains(active) && active.matches("input, textarea, select"));
}

function showToday(part) {
  const scroll = part.querySelector(".chart-scroll");
  if (scroll) {
    // Whole days, so that no day's name is cut at the left.
    const day = Number(scroll.dataset.day);
    scroll.scrollLeft = day * Math.round((Number(scroll.dataset.today) - 0.25 * scroll.clientWidth) / day);
  }
}

for (const part of parts) {
  let unfolded = [];
  let left = 0;
  let focused = "";
  showToday(part);
  part.addEventListener("htmx:beforeRequest", (event) => {
    if (event.target === part && isBusy(part)) {
      event.preventDefault();
    }
  });
  part.addEventListener("htmx:beforeSwap", () => {
    unfolded = [...part.querySelectorAll("details[open][id]")].map((each) => each.id);
    left = part.querySelector(".chart-scroll")?.scrollLeft ?? 0;
    focused = part.contains(document.activeElement) ? document.activeElement.id : "";
  });
  part.addEventListener("htmx:afterSwap", () => {
    for (const id of unfolded) {
      document.getElementById(id)?.setAttribute("open", "");
    }
    const scroll = part.querySelector(".chart-scroll");
    if (scroll) {
      scroll.scrollLeft = left;
    }
    if (focused) {
      document.getElementById(focused)?.focus({ preventScroll: true });
    }
  });
}
