// The book is written to the disc as the command writes it.
import { ask } from "./ask.js";

const button = document.getElementById("write");
const line = document.getElementById("disc");
button.addEventListener("click", async () => {
  button.disabled = true;
  line.className = "";
  line.textContent = "Writing …";
  try {
    const told = await ask("/papers/write", {});
    line.textContent = `✓ ${told.written} is written.${told.warning ? ` But ${told.warning}.` : ""}`;
    button.classList.remove("main");
  } catch (error) {
    line.className = "slip";
    line.textContent = `! ${error.message}`;
  }
  button.disabled = false;
});
