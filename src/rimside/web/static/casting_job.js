// A whole casting, made beside the page: begun, watched, stopped.
import { ask } from "./ask.js";
import { element } from "./element.js";

const EVERY_MS = 400;

/** Wires the buttons in `host`; `done` is called with what came out. */
export function makeCastingJob(host, done) {
  const line = host.querySelector(".state");
  let begun = false;
  for (const button of host.querySelectorAll("[data-close]")) button.addEventListener("click", async () => {
    try {
      await ask("/cast", { close: Boolean(button.dataset.close) });
      begun = true;
      watch();
    } catch (slip) {
      line.textContent = slip.message;
    }
  });
  async function watch() {
    const told = await ask("/cast/state");
    if (told.running) {
      begun = true;
      const bar = element("progress", { class: "progress", max: 1, value: told.share, "aria-label": "how far the casting is" });
      line.replaceChildren(bar, ` ${told.stage} `, element("button", { type: "button", onclick: () => ask("/cast/stop", {}) }, "stop"));
      setTimeout(watch, EVERY_MS);
      return;
    }
    line.textContent = told.slip || told.words;
    if (begun && !told.slip && !told.words.startsWith("stopped")) done(told.words);
  }
  watch();
}
