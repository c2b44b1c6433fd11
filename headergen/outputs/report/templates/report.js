// @ts-check
// The report page: a click on a finding or a gap flies the view to its place; the tubes are shown in steel or by gap.
"use strict";

/* global makeView, onChoice, dataOf */

/**
 * A place: two points, and what stands beside them in either unit; see sections.py.
 * @typedef {{points: number[][], mm: string, in: string}} SeenPlace
 * @typedef {Packed & {tones?: string}} TonedMesh
 */

/** @returns {HTMLDetailsElement[]} the sections that can be folded */
const foldedSections = () => Array.from(document.querySelectorAll("details[data-section]"));

// on paper all of it stands open; Open every section does the same on the screen
document.getElementById("unfold")?.addEventListener("click", () => foldedSections().forEach((each) => { each.open = true; }));
window.addEventListener("beforeprint", () => foldedSections().forEach((each) => { each.open = true; }));

(() => {
  /** @type {{meshes: TonedMesh[], surface: Surface, tones: string[], seenFrom: number[], sights: SeenPlace[], units: "mm" | "in"}} */
  const data = dataOf("page-data");
  const place = /** @type {HTMLElement} */ (document.getElementById("view"));
  const buttons = /** @type {NodeListOf<HTMLButtonElement>} */ (document.querySelectorAll("button[data-sight]"));
  place.classList.add("live");
  let view;
  try {
    view = makeView(place, data.meshes, data.surface, data.seenFrom);
  } catch { // no WebGL: the picture stays, and no button does anything
    place.classList.remove("live");
    place.querySelectorAll("canvas, .tags").forEach((each) => each.remove());
    return;
  }
  const live = view;
  let unit = data.units;
  /** @type {SeenPlace | null} */
  let seen = null;

  for (const mesh of data.meshes) {
    if (mesh.tones) {
      const tones = mesh.tones;
      live.colour(mesh.group, mesh.name, () => Uint8Array.from(atob(tones), (each) => each.charCodeAt(0)), data.tones);
    }
  }

  function look() {
    if (seen) {
      live.dimension(seen.points[0], seen.points[1], seen[unit]);
    }
  }

  for (const button of buttons) {
    button.disabled = false;
    button.addEventListener("click", () => {
      buttons.forEach((each) => each.toggleAttribute("aria-current", each === button));
      seen = data.sights[Number(button.dataset.sight)];
      look();
      place.scrollIntoView({ block: "nearest" });
      const words = (button.querySelector(".unseen")?.textContent ?? "").replace(/^[, ]+/, "");
      const status = document.getElementById("seen");
      if (status) {
        status.textContent = `Shown: ${[words, seen[unit]].filter(Boolean).join(", ")}.`;
      }
    });
  }

  onChoice("unit", (next) => {
    unit = next === "in" ? "in" : "mm";
    look();
  });
  onChoice("paint", (paint) => {
    place.classList.toggle("by-gap", paint === "gap");
    document.getElementById("live-scale")?.toggleAttribute("hidden", paint !== "gap");
    const runs = new Set(data.meshes.filter((mesh) => mesh.group === "gap").map((mesh) => mesh.name));
    for (const mesh of data.meshes.filter((each) => runs.has(each.name) && each.group !== "chassis")) {
      live.show(mesh.group, mesh.name, (mesh.group === "header") !== (paint === "gap"));
    }
  });
  const around = /** @type {HTMLInputElement | null} */ (document.getElementById("chassis"));
  around?.addEventListener("change", () => {
    for (const mesh of data.meshes.filter((each) => each.group === "chassis")) {
      live.show("chassis", mesh.name, around.checked);
    }
  });
  document.getElementById("home")?.addEventListener("click", () => live.home());
  Object.assign(window, { headerView: live });
})();
