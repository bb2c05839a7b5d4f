// As one types, the list follows; so does the address, so that it can be kept as a link.
document.addEventListener("htmx:afterRequest", (event) => {
  const { elt, successful, pathInfo } = event.detail;
  if (!successful || !elt.matches("form.find")) return;
  const asked = new URL(pathInfo.finalRequestPath, location.origin);
  for (const [name, value] of [...asked.searchParams]) if (!value) asked.searchParams.delete(name);
  history.replaceState(null, "", asked);
});
