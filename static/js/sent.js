// One press, one record. A form that was accepted leads to the page the server named, as without script.
const accepted = (form) => form.dispatchEvent(new CustomEvent("casewright:accepted", { bubbles: true }));

document.addEventListener("htmx:beforeSwap", (event) => {
  const { xhr, requestConfig, target } = event.detail;
  if (target?.id !== "main" || !xhr.responseURL || xhr.status >= 400) return;
  const asked = new URL(requestConfig.path, location.href);
  const answered = new URL(xhr.responseURL);
  if (asked.pathname + asked.search !== answered.pathname + answered.search) {
    event.detail.shouldSwap = false;
    accepted(event.detail.elt);
    location.assign(answered);
  }
});

// A page after a save is named in a header, so that it is fetched once and still says "Saved".
document.addEventListener("htmx:beforeOnLoad", (event) => {
  const next = event.detail.xhr.getResponseHeader("HX-Redirect");
  if (!next) return;
  accepted(event.detail.elt);
  const address = new URL(next, location.href);
  // A mark in the same page would only be scrolled to, and the page would stay as it was.
  const samePage = address.pathname + address.search === location.pathname + location.search;
  if (address.hash && samePage) setTimeout(() => location.reload());
});

// Forms without htmx (theme, undo, one-button steps) are guarded the plain way.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.hasAttribute("hx-post") || form.method !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  setTimeout(() => {
    for (const button of form.querySelectorAll("button")) button.disabled = true;
  });
  // A form that is answered with a file leaves its page standing: it may be asked again.
  if (form.querySelector("[data-again]")) {
    setTimeout(() => {
      delete form.dataset.sent;
      for (const button of form.querySelectorAll("button")) button.disabled = false;
    }, 5000);
  }
});
