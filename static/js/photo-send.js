// A photo is sent as soon as it is taken or picked; what was picked stays picked until the server says saved.
const formOf = (event) => event.target.closest?.("[data-photo-form]");

document.addEventListener("change", (event) => {
  const form = formOf(event);
  if (form && event.target.type === "file" && event.target.files.length) form.requestSubmit();
});

function say(form, isSending) {
  form.querySelector(".sending").hidden = !isSending;
}

document.addEventListener("htmx:beforeRequest", (event) => {
  const form = formOf(event);
  if (form) say(form, true);
});
document.addEventListener("htmx:afterRequest", (event) => {
  const form = formOf(event);
  if (!form || event.detail.successful) return;
  say(form, false);
  // The photo is still picked: a button to send it again takes the place of picking it again.
  form.querySelector(".without-script")?.classList.remove("without-script");
});
