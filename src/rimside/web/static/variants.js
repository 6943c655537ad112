// Making, taking over and putting aside variants.
import { ask } from "./ask.js";

const slip = document.querySelector("#slip");

async function deed(name, body) {
  slip.textContent = "";
  try {
    await ask(`/variants/${name}`, body);
    if (name === "remove" && new URLSearchParams(location.search).get("variant") === body.name) location.href = "/variants";
    else location.reload();
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
