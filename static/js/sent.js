// One press, one record. A form that was accepted leads to the page the server named, as without script.
document.addEventListener("htmx:beforeSwap", (event) => {
  const { xhr, requestConfig, target } = event.detail;
  if (target?.id !== "main" || !xhr.responseURL || xhr.status >= 400) return;
  const asked = new URL(requestConfig.path, location.href);
  const answered = new URL(xhr.responseURL);
  if (asked.pathname + asked.search !== answered.pathname + answered.search) {
    event.detail.shouldSwap = false;
    event.detail.elt.dispatchEvent(new CustomEvent("casewright:accepted", { bubbles: true }));
    location.assign(answered);
  }
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
});
