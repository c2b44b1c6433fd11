// @ts-check
// A page that is watched: asks after new states, and takes their place with the camera where it was.
"use strict";

(() => {
  const KEPT = "headergen-watch";
  const banner = /** @type {HTMLElement} */ (document.getElementById("watch"));
  const mine = Number(banner.dataset.number);
  const isBefore = location.pathname === "/before";
  const view = /** @type {any} */ (window).headerView;

  /** @param {string} words @param {boolean} isStale */
  function say(words, isStale) {
    const said = /** @type {HTMLElement} */ (document.getElementById("watch-said"));
    if (said.textContent !== words) {
      said.textContent = words;
    }
    document.documentElement.classList.toggle("stale", isStale);
  }

  function restore() {
    const kept = JSON.parse(sessionStorage.getItem(KEPT) ?? "null");
    sessionStorage.removeItem(KEPT);
    if (!kept) {
      return;
    }
    for (const [name, value] of kept.choices) {
      const input = /** @type {HTMLInputElement | null} */ (document.querySelector(`input[name="${name}"][value="${value}"]`));
      if (input && !input.checked) {
        input.checked = true;
        input.dispatchEvent(new Event("change"));
      }
    }
    for (const each of /** @type {NodeListOf<HTMLDetailsElement>} */ (document.querySelectorAll("details[data-section]"))) {
      each.open = kept.open.includes(each.dataset.section);
    }
    if (kept.camera && view) {
      view.stand(kept.camera);
    }
    window.scrollTo(0, kept.scroll);
  }

  function follow() {
    const chosen = /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll("input[type=radio]:checked"));
    const choices = Array.from(chosen, (input) => [input.name, input.value]);
    const sections = /** @type {NodeListOf<HTMLDetailsElement>} */ (document.querySelectorAll("details[data-section][open]"));
    const open = Array.from(sections, (each) => each.dataset.section);
    sessionStorage.setItem(KEPT, JSON.stringify({ camera: view?.camera(), scroll: window.scrollY, choices, open }));
    location.reload();
  }

  async function ask() {
    try {
      const state = await (await fetch("/state", { cache: "no-store" })).json();
      if (state.complaint) {
        say(`The file as it is now cannot be used; what is shown is the last good state.\n${state.complaint}`, true);
      } else if (state.number !== mine) {
        say("A new state is being drawn.", false);
        follow();
        return;
      } else {
        say(/** @type {string} */ (banner.dataset.said), false);
      }
    } catch {
      say("The watch has ended; what is shown is its last good state.", true);
    }
    setTimeout(ask, 300);
  }

  if (isBefore) {
    say("This is the state before; it does not follow.", true);
  } else {
    restore();
    ask();
  }
})();
