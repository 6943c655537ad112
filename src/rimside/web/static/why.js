// Mends are tried and kept, castings made again, cautions noted; every answer is told where it was asked.
import { ask } from "./ask.js";
import { element } from "./element.js";
import { makeSteps } from "./steps.js";

const make = (tag, words, parent, kind) => {
  const node = element(tag, { class: kind }, words);
  parent?.append(node);
  return node;
};
const say = (words) => { document.getElementById("said").textContent = words; };
const slip = (place, error) => { place.hidden = false; place.replaceChildren(); make("p", `! ${error.message}`, place, "slip"); };
const inside = (id) => {
  const url = new URL("/", location.origin);
  url.search = location.search;
  url.searchParams.set("figure", id);
  return url.pathname + url.search;
};

const list = (place, head, rows) => {
  if (!rows.length) return;
  make("p", head, place);
  const items = make("ul", undefined, place);
  for (const row of rows) {
    const link = make("a", row.words, make("li", undefined, items));
    link.href = inside(row.id);
  }
};

const show = (place, told, wish) => {
  place.replaceChildren();
  list(place, "With it these are played:", told.gained);
  list(place, told.moved.length === 1 ? "One figure changes:" : `${told.moved.length} figures change:`, told.moved);
  if (!told.moved.length) make("p", "Nothing else changes.", place);
  if (told.levels.length) {
    make("p", "What it is worth:", place);
    const rows = make("ul", undefined, place);
    for (const row of told.levels) make("li", `${row.words}: ${row.before}, then ${row.after} (${row.better ? "better" : "worse"})`, rows);
  }
  for (const words of told.breaches) make("p", `! ${words}`, place, "slip");
  if (told.file && !told.breaches.length) {
    const button = make("button", `keep it, in ${told.file}`, place, "main");
    button.type = "button";
    button.addEventListener("click", () => keep(button, place, wish));
  } else if (!told.file) {
    const [words, file] = told.afterwards;
    make("p", words, place);
    const link = make("a", `open ${file}`, place, "button");
    const url = new URL("/files", location.origin);
    url.search = location.search;
    url.searchParams.set("file", file);
    link.href = url.pathname + url.search;
  }
};

const keep = async (button, place, wish) => {
  button.disabled = true;
  try {
    const told = await ask("/why/keep", wish);
    again(`Kept: ${told.step}. Undo takes it back.`);
  } catch (error) { slip(place, error); }
};

for (const button of document.querySelectorAll(".try")) {
  button.addEventListener("click", async () => {
    const row = button.closest("li");
    const place = row.querySelector(".found");
    const wish = { figure: row.dataset.figure, number: Number(row.dataset.number), text: row.dataset.text };
    button.disabled = true;
    say("Trying it …");
    try {
      const told = await ask("/why/try", wish);
      place.hidden = false;
      show(place, told, wish);
      say("");
    } catch (error) { slip(place, error); say(""); }
    button.disabled = false;
  });
}

for (const button of document.querySelectorAll(".read")) {
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      await ask("/why/read", { caution: button.dataset.caution });
      button.textContent = "read ✓";
    } catch (error) { button.disabled = false; say(error.message); }
  });
}

const wait = (seconds) => new Promise((done) => setTimeout(done, seconds * 1000));
for (const button of document.querySelectorAll(".cast")) {
  button.addEventListener("click", async () => {
    const which = button.dataset.casting ? `?casting=${encodeURIComponent(button.dataset.casting)}` : "";
    button.disabled = true;
    try {
      let state = await ask(`/cast${which}`, { close: button.dataset.close === "yes" });
      while (state.running) {
        say(`Casting: ${state.stage}, ${Math.round(100 * state.share)} %`);
        await wait(0.5);
        state = await ask(`/cast/state${which}`);
      }
      if (state.slip) throw new Error(state.slip);
      again(state.words);
    } catch (error) { button.disabled = false; say(error.message); }
  });
}

const again = (words) => { sessionStorage.setItem("said", words); location.reload(); };
if (document.getElementById("undo")) makeSteps(again, say);

const left = sessionStorage.getItem("said");
if (left) { sessionStorage.removeItem("said"); say(left); }
