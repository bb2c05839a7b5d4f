// The server did not answer: say so, promise only what is true, and take the bar away once it answers again.
const words = {
  away: "Server not reached. Nothing is lost: what you typed is kept on this tablet. Press the button again when it is back.",
  refused: "The server could not do that. What you typed is kept on this tablet; try again, or reload the page.",
  signedOut: "This device was signed out. Sign in, come back here and press the button again: the photo is still picked.",
};

function bar() {
  let found = document.querySelector(".bar.lost");
  if (!found) {
    found = document.createElement("div");
    found.className = "bar lost";
    found.setAttribute("role", "alert");
    const close = document.createElement("button");
    close.type = "button";
    close.className = "button";
    close.textContent = "Close";
    close.addEventListener("click", () => found.remove());
    found.append(document.createElement("span"), close);
    document.body.append(found);
  }
  return found;
}

function say(text) {
  bar().firstElementChild.textContent = text;
}

// Signing in leads back here, where drafts put back what was typed; only a picked photo must not leave its page.
function signIn() {
  if (![...document.querySelectorAll("input[type=file]")].some((field) => field.files.length)) {
    location.assign(`/sign-in?next=${encodeURIComponent(location.pathname + location.search)}`);
    return;
  }
  say(words.signedOut);
  const way = Object.assign(document.createElement("a"), { href: "/sign-in", target: "_blank", className: "button" });
  way.textContent = "Sign in";
  if (!bar().querySelector("a")) bar().firstElementChild.after(way);
}

document.addEventListener("htmx:sendError", () => say(words.away));
document.addEventListener("htmx:timeout", () => say(words.away));
document.addEventListener("htmx:responseError", (event) => {
  const { status, responseText } = event.detail.xhr;
  if (status === 401) {
    signIn();
    return;
  }
  const page = new DOMParser().parseFromString(responseText || "", "text/html");
  const said = page.querySelector(".caution strong")?.textContent;
  say(said && status < 500 ? said : words.refused);
});
document.addEventListener("htmx:afterRequest", (event) => {
  if (event.detail.successful) document.querySelector(".bar.lost")?.remove();
});

// After a refused form comes back, the summary of what to put right is read and seen first.
document.addEventListener("htmx:afterSettle", () => {
  const summary = document.querySelector("[data-error-summary]");
  if (summary && !summary.dataset.seen) {
    summary.dataset.seen = "yes";
    summary.focus();
    summary.scrollIntoView({ block: "start" });
  }
});
