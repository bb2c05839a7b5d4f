// What is typed stays on this tablet, under the form's own name, until the server says that it is saved.
const KEPT_DAYS = 30;
const keyOf = (name) => `casewright draft ${name}`;
const skipped = (field) => !field.name || field.type === "password" || field.type === "file";

function contentOf(form) {
  return [...new FormData(form)].filter(([, value]) => typeof value === "string");
}

function keep(form) {
  if (form.querySelector("input[type=password]")) return;
  try {
    const draft = { at: Date.now(), content: contentOf(form) };
    localStorage.setItem(keyOf(form.dataset.draft), JSON.stringify(draft));
  } catch {
    // The store is full or closed: the form still works, only without a net.
  }
}

function draftOf(name) {
  try {
    const draft = JSON.parse(localStorage.getItem(keyOf(name)));
    return draft && Date.now() - draft.at < KEPT_DAYS * 86400e3 ? draft : null;
  } catch {
    return null;
  }
}

function forget(name) {
  try {
    localStorage.removeItem(keyOf(name));
  } catch {
    // Nothing was kept.
  }
}

function put(form, content) {
  const texts = new Map();
  for (const [name, value] of content) texts.set(name, [...(texts.get(name) ?? []), value]);
  for (const field of form.elements) {
    if (skipped(field) || field.tagName === "BUTTON") continue;
    const values = texts.get(field.name) ?? [];
    if (field.type === "radio" || field.type === "checkbox") field.checked = values.includes(field.value);
    else if (values.length) field.value = values.shift();
  }
}

// What a fold holds: one in which nothing was typed stays shut.
function holds(fold) {
  const fields = [...fold.querySelectorAll("input, select, textarea")];
  return JSON.stringify(fields.map(({ checked, value }) => [checked, value]));
}

function tell(form, at) {
  const line = document.createElement("p");
  line.className = "bar restored";
  line.setAttribute("role", "status");
  const words = document.createElement("span");
  const when = new Date(at).toLocaleString([], { weekday: "short", hour: "2-digit", minute: "2-digit" });
  words.textContent = `Restored what you typed here on ${when}. It is not saved yet.`;
  const again = document.createElement("button");
  again.type = "button";
  again.className = "button";
  again.textContent = "Start afresh";
  again.addEventListener("click", () => {
    drop(form);
    location.reload();
  });
  line.append(words, again);
  form.prepend(line);
}

function restore(form) {
  if (form.dataset.ready) return;
  form.dataset.ready = "yes";
  if (form.hasAttribute("data-answered")) {
    keep(form); // the server sent back what was typed, with its remarks: that is the newest
    return;
  }
  const draft = draftOf(form.dataset.draft);
  if (!draft) return;
  const before = JSON.stringify(contentOf(form).filter(([name]) => name !== "form_id"));
  const after = JSON.stringify(draft.content.filter(([name]) => name !== "form_id"));
  if (before === after) return;
  const folds = [...form.querySelectorAll("details")];
  const bare = folds.map(holds);
  put(form, draft.content);
  folds.filter((fold, at) => holds(fold) !== bare[at]).forEach((fold) => (fold.open = true));
  tell(form, draft.at);
  form.dispatchEvent(new Event("change", { bubbles: true }));
}

function start() {
  for (const line of document.querySelectorAll("[data-saved-draft]")) forget(line.dataset.savedDraft);
  for (const form of document.querySelectorAll("form[data-draft]")) restore(form);
  const address = new URL(location.href);
  if (address.searchParams.has("saved")) {
    address.searchParams.delete("saved"); // so that Back and reload do not say "saved" again
    history.replaceState(history.state, "", address);
  }
}

function drop(form) {
  form.removeAttribute("data-typed");
  forget(form.dataset.draft);
}

document.addEventListener("input", (event) => {
  const form = event.target.closest?.("form[data-draft]");
  if (!form) return;
  form.setAttribute("data-typed", "");
  keep(form);
});
addEventListener("pagehide", () => {
  for (const form of document.querySelectorAll("form[data-draft][data-typed]")) keep(form);
});
document.addEventListener("casewright:accepted", (event) => {
  if (event.target.dataset.draft) drop(event.target);
});
document.addEventListener("click", (event) => {
  if (event.target.closest?.("[data-forget-draft]")) document.querySelectorAll("form[data-draft]").forEach(drop);
});
document.addEventListener("htmx:afterSettle", start);
start();
