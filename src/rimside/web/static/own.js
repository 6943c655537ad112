// Colours that come from the production: a player's field, a pitch's tag.
const dye = (root = document) => {
  for (const mark of root.querySelectorAll("[data-own]")) {
    mark.style.setProperty("--own", mark.dataset.own);
    if (mark.dataset.on) mark.style.setProperty("--own-on", mark.dataset.on);
  }
};
dye();

export { dye };
