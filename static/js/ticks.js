// Batches ticked for comparing stay ticked while pages are turned and lists narrowed, up to four, in this tab.
const KEY = "compare";
const MOST = 4;

function ticked() {
  try {
    const kept = JSON.parse(sessionStorage.getItem(KEY));
    return Array.isArray(kept) ? kept.filter((one) => /^\d{1,15}$/.test(one)).slice(0, MOST) : [];
  } catch {
    return [];
  }
}

function keep(numbers) {
  try {
    sessionStorage.setItem(KEY, JSON.stringify(numbers));
  } catch {
    // a browser that stores nothing compares what is ticked on one page
  }
}

const boxes = () => [...document.querySelectorAll('input[name="b"][form="side-by-side"]')];

function show() {
  const form = document.getElementById("side-by-side");
  if (!form) return;
  const numbers = ticked();
  const here = boxes();
  for (const box of here) box.checked = numbers.includes(box.value);
  for (const old of form.querySelectorAll("input[type=hidden]")) old.remove();
  for (const number of numbers.filter((one) => !here.some((box) => box.value === one))) {
    const away = document.createElement("input");
    Object.assign(away, { type: "hidden", name: "b", value: number });
    form.append(away);
  }
  const said = form.querySelector("[role=status]");
  said.textContent = numbers.length ? `Ticked: ${numbers.join(", ")}.` : said.dataset.none;
  form.querySelector("[data-untick]").hidden = !numbers.length;
}

document.addEventListener("change", ({ target }) => {
  if (!target.matches?.('input[name="b"][form="side-by-side"]')) return;
  const others = ticked().filter((one) => one !== target.value);
  if (target.checked && others.length === MOST) {
    target.checked = false;
    document.querySelector("#side-by-side [role=status]").textContent =
      "Four go side by side. Take one tick away first.";
    return;
  }
  keep(target.checked ? [...others, target.value] : others);
  show();
});

document.addEventListener("click", ({ target }) => {
  if (!target.closest?.("[data-untick]")) return;
  keep([]);
  show();
});
document.addEventListener("htmx:afterSwap", show);
show();
