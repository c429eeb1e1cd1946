// What is being worked out renews itself (hx-trigger), but not while nobody looks at the page.
document.addEventListener("htmx:beforeRequest", (event) => {
  if (document.hidden && event.target.hasAttribute("data-settling")) {
    event.preventDefault();
  }
});
