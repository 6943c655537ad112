// Undo and redo on any page that has the two buttons.
import { ask } from "./ask.js";

/** Wires the buttons; `done` is called with what was taken back or made again. */
export async function makeSteps(done, failed) {
  const steps = { undo: null, redo: null };
  const buttons = { undo: document.querySelector("#undo"), redo: document.querySelector("#redo") };
  const go = async (way) => {
    try {
      const told = await ask(`/${way}`, { step: steps[way]?.number ?? null });
      done(`${way === "undo" ? "taken back" : "made again"}: ${told.step}`);
    } catch (slip) {
      failed(slip.message);
      if (slip.status === 409) await look();
    }
  };
  for (const way of ["undo", "redo"]) buttons[way].addEventListener("click", () => go(way));
  addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target.closest("input:not([type=range]), textarea")) return;
    const key = event.key.toLowerCase();
    const way = key === "z" ? (event.shiftKey ? "redo" : "undo") : key === "y" ? "redo" : null;
    if (!way || buttons[way].disabled) return;
    event.preventDefault();
    go(way);
  });
  await look();

  /** What can be taken back and made again now; told beside the buttons. */
  async function look() {
    const told = await ask("/steps");
    steps.undo = told.steps.filter((one) => one.number <= told.position).at(-1);
    steps.redo = told.steps.find((one) => one.number > told.position);
    for (const way of ["undo", "redo"]) {
      buttons[way].disabled = !told[`can_${way}`];
      buttons[way].title = steps[way] ? `${way} “${steps[way].words}”` : "";
    }
  }
}
