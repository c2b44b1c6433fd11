// @ts-check
// The customer's page: finish, parts and chassis are chosen, and the picture gives way to the view.
"use strict";

/* global makeView, onChoice, dataOf */

(() => {
  /** @type {{meshes: Packed[], surfaces: Surface[], finish: string, seenFrom: number[], labels: Tag[]}} */
  const data = dataOf("page-data");
  const place = /** @type {HTMLElement} */ (document.getElementById("view"));
  const surfaceOf = (/** @type {string} */ name) => data.surfaces.find((each) => each.name === name) ?? data.surfaces[0];
  place.classList.add("live");
  let view;
  try {
    view = makeView(place, data.meshes, surfaceOf(data.finish), data.seenFrom);
  } catch { // no WebGL: the picture stays
    place.classList.remove("live");
    place.querySelectorAll("canvas, .tags").forEach((each) => each.remove());
    return;
  }
  const live = view;
  onChoice("finish", (name) => live.finish(surfaceOf(name)));
  for (const box of /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll('input[name="part"]'))) {
    box.addEventListener("change", () => live.show("header", box.value, box.checked));
  }
  const around = /** @type {HTMLInputElement | null} */ (document.getElementById("chassis"));
  const named = () => live.tag(data.labels.filter((each) => each.kind !== "around" || (around?.checked ?? true)));
  named();
  around?.addEventListener("change", () => {
    named();
    for (const mesh of data.meshes.filter((each) => each.group === "chassis")) {
      live.show("chassis", mesh.name, around.checked);
    }
  });
  document.getElementById("home")?.addEventListener("click", () => live.home());
  Object.assign(window, { headerView: live });
})();
