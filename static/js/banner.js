// Says so when a request did not get through; takes it back when the next one does.
const banner = document.querySelector("[data-banner]");

const say = (words) => {
  if (banner.textContent !== words) banner.textContent = words;
};

if (banner) {
  document.addEventListener("htmx:sendError", () => say("No connection to the shop's server. What you see may be old. Trying again."));
  document.addEventListener("htmx:responseError", ({ detail }) => {
    const { status } = detail.xhr;
    if (status === 401 || status === 403) say("You are signed out or may not do this. Reload the page.");
    else say(`The server could not answer (${status}). What you see may be old. Reload the page, or try again in a minute.`);
  });
  document.addEventListener("htmx:afterRequest", ({ detail }) => detail.successful && say(""));
}
