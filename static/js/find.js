// As one types, the list follows; so does the address, so that it can be kept as a link.
document.addEventListener("htmx:afterRequest", (event) => {
  const { elt, successful, pathInfo } = event.detail;
  if (!successful || !elt.matches("form.find")) return;
  const asked = new URL(pathInfo.finalRequestPath, location.origin);
  asked.search = new URLSearchParams([...asked.searchParams].filter(([, value]) => value));
  history.replaceState(null, "", asked);
});
