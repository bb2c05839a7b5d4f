// Runs before the page is drawn: says that scripts work, and reloads a page that Back brought from memory.
document.documentElement.classList.add("js");
addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload();
});
