// @ts-check
// What every page does: says that scripts run, and shows lengths in the unit that is chosen.
"use strict";

/** Every length stands in the page in both units; the one that is chosen is shown. @param {string} unit "mm" or "in" */
function showUnit(unit) {
  for (const each of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-mm]"))) {
    each.textContent = (unit === "in" ? each.dataset.in : each.dataset.mm) ?? "";
  }
}

/** @param {string} name of a group of choices @param {(value: string) => void} act */
function onChoice(name, act) {
  for (const input of /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll(`input[name="${name}"]`))) {
    input.addEventListener("change", () => input.checked && act(input.value));
  }
}

/** @param {string} id of an element that holds plain data @returns {any} */
function dataOf(id) {
  return JSON.parse(document.getElementById(id)?.textContent ?? "null");
}

document.documentElement.classList.add("has-script");
onChoice("unit", showUnit);
