// The dress of the page: paper by day, hall where the light is low. Chosen by hand, else as the system says.
(() => {
  const root = document.documentElement;
  const wish = () => localStorage.getItem("dress") || (matchMedia("(prefers-color-scheme: dark)").matches ? "hall" : "paper");
  const wear = () => {
    root.dataset.dress = root.dataset.fixed || wish();
    const button = document.getElementById("dress");
    if (button) button.setAttribute("aria-pressed", String(root.dataset.dress === "hall"));
  };
  wear();
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", wear);
  addEventListener("storage", wear);
  addEventListener("DOMContentLoaded", () => {
    wear();
    document.querySelector(".choose select")?.addEventListener("change", (event) => event.target.form.submit());
    document.getElementById("dress")?.addEventListener("click", () => {
      localStorage.setItem("dress", root.dataset.dress === "hall" ? "paper" : "hall");
      wear();
    });
  });
})();
