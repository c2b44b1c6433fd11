// @ts-check
// One screen at a time, ticks that stay on this phone, and a screen that does not go dark.
"use strict";

/* global dataOf */

const shopKey = /** @type {string} */ (dataOf("page-data").key);

/** What this phone remembers of the job; a browser may refuse to remember. @returns {{done: string[], awake: boolean}} */
function remembered() {
  try {
    const found = JSON.parse(window.localStorage.getItem(shopKey) ?? "{}");
    return { done: Array.isArray(found.done) ? found.done : [], awake: found.awake !== false };
  } catch {
    return { done: [], awake: true };
  }
}

const shop = remembered();

function remember() {
  try {
    window.localStorage.setItem(shopKey, JSON.stringify(shop));
  } catch {
    // the ticks stay as long as the page is open
  }
}

const shopScreens = /** @type {HTMLElement[]} */ ([...document.querySelectorAll(".screen")]);
const ticks = /** @type {HTMLInputElement[]} */ ([...document.querySelectorAll("[data-tick]")]);

function showScreen() {
  const name = decodeURIComponent(window.location.hash.slice(1));
  const shown = shopScreens.find((each) => each.id === name) ?? shopScreens[0];
  shopScreens.forEach((each) => each.classList.toggle("shown", each === shown));
  const tab = /** @type {HTMLElement | null} */ (shown.querySelector("[role=tab]"));
  if (tab) {
    showPart(tab);
  }
  window.scrollTo(0, 0);
}

/** A joint has more to say than a phone shows at once: one part of it, by its tab. @param {HTMLElement} tab */
function showPart(tab) {
  for (const each of /** @type {HTMLElement[]} */ ([...(tab.parentElement?.children ?? [])])) {
    each.setAttribute("aria-selected", String(each === tab));
    document.getElementById(each.getAttribute("aria-controls") ?? "")?.classList.toggle("shown", each === tab);
  }
}

for (const tab of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[role=tab]"))) {
  tab.addEventListener("click", () => showPart(tab));
}

function showTicks() {
  ticks.forEach((each) => { each.checked = shop.done.includes(each.dataset.tick ?? ""); });
  for (const each of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-of]"))) {
    each.textContent = shop.done.includes(each.dataset.of ?? "") ? "✓ done" : "";
  }
  const open = ticks.find((each) => !each.checked);
  const go = /** @type {HTMLAnchorElement} */ (document.getElementById("go-on"));
  go.href = "#" + (open?.dataset.tick ?? "start");
  go.textContent = !open ? "All is ticked" : shop.done.length ? "Go on where it was left" : "Begin";
}

for (const each of ticks) {
  each.addEventListener("change", () => {
    const name = each.dataset.tick ?? "";
    shop.done = shop.done.filter((other) => other !== name).concat(each.checked ? [name] : []);
    remember();
    showTicks();
  });
}

/** @type {WakeLockSentinel | null} */
let lock = null;
const awake = /** @type {HTMLInputElement} */ (document.getElementById("awake"));
const awakeSaid = /** @type {HTMLElement} */ (document.getElementById("awake-said"));

/** The browser lets go of it whenever the page is out of sight, and may refuse it when the battery is low. */
async function keepAwake() {
  if (!awake.checked || document.visibilityState !== "visible" || (lock && !lock.released)) {
    return;
  }
  try {
    lock = await navigator.wakeLock.request("screen");
    awakeSaid.textContent = "";
  } catch {
    awakeSaid.textContent = "The browser does not keep the screen awake just now. Tap the switch to try again.";
    awake.checked = false;
  }
}

if ("wakeLock" in navigator) {
  awake.checked = shop.awake;
  awake.addEventListener("change", () => {
    shop.awake = awake.checked;
    remember();
    if (awake.checked) {
      void keepAwake();
    } else {
      void lock?.release();
    }
  });
  document.addEventListener("visibilitychange", () => void keepAwake());
  void keepAwake();
} else {
  document.getElementById("awake-switch")?.remove();
  awakeSaid.textContent = "This browser cannot keep the screen awake: set the phone so that its screen stays on.";
}

window.addEventListener("hashchange", showScreen);
showTicks();
showScreen();
