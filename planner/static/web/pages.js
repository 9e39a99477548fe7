// Keys of the served pages, and focus after an answer came in place.
"use strict";

const single_keys = () => document.querySelector("[data-single]").checked;
const follow = (rel) => document.querySelector(`a[rel="${rel}"]`)?.click();
const row_links = () => [...document.querySelectorAll("[data-row-link]")];
const step = (by) => {
  const links = row_links();
  const here = links.indexOf(document.activeElement);
  links[here < 0 ? 0 : Math.min(Math.max(here + by, 0), links.length - 1)]?.focus();
};
const acts = {
  "/": () => document.querySelector('search input:not([type="hidden"])')?.focus(),
  j: () => step(1),
  k: () => step(-1),
  p: () => follow("prev"),
  n: () => follow("next"),
  x: () => document.activeElement.closest("tr")?.querySelector("[data-tick]")?.click(),
};
// A number takes the time that carries it; a key that is held down takes it once.
const take = (event) => document.querySelector(`[data-key="${event.key}"]`)?.click();
for (const number of "123456789") acts[number] = take;
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, textarea, select");
  const open = document.getElementById("keys").open;
  if (typing || open || event.ctrlKey || event.metaKey || event.altKey || !single_keys()) return;
  const act = acts[event.key];
  if (!act || (event.repeat && act === take)) return;
  event.preventDefault();
  act(event);
});
// An answer that asks for a decision takes the focus, so that it is read out.
document.addEventListener("htmx:afterSwap", () => document.querySelector("[data-focus]")?.focus());
// One tick for all rows of the page; without script it is not offered.
const offer_all = () => {
  const all = document.querySelector("[data-all]");
  if (all) all.hidden = false;
};
document.addEventListener("change", (event) => {
  if (!event.target.closest("[data-all]")) return;
  for (const tick of document.querySelectorAll("[data-tick]")) tick.checked = event.target.checked;
});
document.addEventListener("htmx:afterSwap", offer_all);
offer_all();
