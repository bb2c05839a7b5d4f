// The server did not answer, or could not save: say so, promise only what is true, and send the form again.
const AGAIN_MS = 5000;
const words = {
  away: "Server not reached: not saved yet. What you typed is kept on this tablet, and is sent by itself once the server is back.",
  press: "Server not reached: not saved yet. What you typed is kept on this tablet. Press the button again when it is back, and look at the time.",
  unheard: "Server not reached. Nothing is lost; try again when it is back.",
  refused: "The server could not do that. What you typed is kept on this tablet; try again, or reload the page.",
  signedOut: "This device was signed out. Sign in, come back here and press the button again: the photo is still picked.",
};
let waiting = null;

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
    close.addEventListener("click", () => {
      waiting = null;
      found.remove();
    });
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

// A form with a one-use id may be sent any number of times: what was saved the first time is not saved again.
// One that means "now" waits for a hand, for by then it is later.
function away(event) {
  const { elt, requestConfig } = event.detail;
  if (!elt.matches?.("form") || !elt.elements.namedItem("form_id")) return say(words.unheard);
  const meansNow = [...elt.elements].some((field) => field.type === "datetime-local" && !field.value);
  if (!meansNow) waiting = { form: elt, button: requestConfig?.triggeringEvent?.submitter };
  say(meansNow ? words.press : words.away);
}

async function sendAgain() {
  if (!waiting) return;
  const asked = waiting;
  try {
    const there = await fetch(document.querySelector("link[rel=icon]").href, { method: "HEAD", cache: "no-store" });
    if (!there.ok) return;
  } catch {
    return; // still away
  }
  // pressed by hand meanwhile, closed, or the page has moved on
  if (waiting !== asked) return;
  waiting = null;
  if (asked.form.isConnected) asked.form.requestSubmit(asked.button);
}

document.addEventListener("htmx:sendError", away);
document.addEventListener("htmx:timeout", away);
document.addEventListener("htmx:beforeRequest", (event) => {
  if (event.detail.elt === waiting?.form) waiting = null;
});
setInterval(sendAgain, AGAIN_MS);
window.addEventListener("online", sendAgain);
document.addEventListener("htmx:responseError", (event) => {
  const { status, responseText } = event.detail.xhr;
  if (status === 401) {
    signIn();
    return;
  }
  const page = new DOMParser().parseFromString(responseText || "", "text/html");
  const said = page.querySelector(".caution strong")?.textContent;
  if (status === 503 && said) say(`${said} What you typed is kept on this tablet.`);
  else say(said && status < 500 ? said : words.refused);
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
