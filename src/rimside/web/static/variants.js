// Making, taking over and putting aside variants.
import { ask } from "./ask.js";
import { makeSteps } from "./steps.js";

const slip = document.querySelector("#slip");
const DONE = { make: "made", "take-over": "is the main plan now; undo takes it back", remove: "put aside" };

function again(words) {
  sessionStorage.setItem("said", words);
  location.reload();
}

async function deed(name, body) {
  slip.textContent = "";
  try {
    await ask(`/variants/${name}`, body);
    if (name === "remove" && new URLSearchParams(location.search).get("variant") === body.name) location.href = "/variants";
    else again(`${body.name} ${DONE[name]}`);
  } catch (error) {
    slip.textContent = error.message;
  }
}

document.querySelector("#make").addEventListener("submit", (event) => {
  event.preventDefault();
  const data = new FormData(event.target);
  deed("make", { name: data.get("name"), source: data.get("source") });
});
for (const button of document.querySelectorAll("[data-deed]")) {
  button.addEventListener("click", () => deed(button.dataset.deed, { name: button.dataset.name }));
}
document.querySelector("#said").textContent = sessionStorage.getItem("said") ?? "";
sessionStorage.removeItem("said");
if (document.querySelector("#undo")) makeSteps(again, (words) => { slip.textContent = words; });
