/** The keys on the page: one for each action. */

import { element } from "./elements.js";

/**
 * What tells an action from the others.
 * @param {Object} action
 * @returns {string}
 */
export function identity(action) {
  return `${action.name} ${JSON.stringify(action.values)} ${action.opens}`;
}

/**
 * The key of an action; one that opens a printable page is a link.
 * @param {Object} action
 * @param {function(Object)} take
 * @param {string} [about] of which row it is, said after the label by a screen reader
 * @returns {HTMLElement}
 */
export function actionKey(action, take, about = "") {
  const attributes = {
    class: `key ${action.role}`,
    "data-action": identity(action),
    "aria-keyshortcuts": action.keys.join(" ") || null,
    "aria-label": about ? `${action.label}: ${about}` : null,
  };
  const key = action.opens
    ? element("a", { ...attributes, href: ownAddress(action.opens), target: "_blank", rel: "noopener" })
    : element("button", { ...attributes, type: "button", "aria-pressed": pressed(action) });
  key.append(...face(action));
  if (!action.opens) key.addEventListener("click", (click) => taken(click, key, () => take(action)));
  return key;
}

/**
 * Open the page of an action as its link would.
 * @param {Object} action
 */
export function open(action) {
  window.open(ownAddress(action.opens), "_blank", "noopener");
}

/** After a click of a mouse or finger the key lets go of the space bar, which is to take the main action. */
function taken(click, key, take) {
  if (click.detail > 0) key.blur();
  take();
}

function face(action) {
  const label = element("span", { class: "label" }, action.label);
  const hint = element("kbd", { "aria-hidden": "true" }, action.hint);
  const sign = element("span", { class: "stop-sign", "aria-hidden": "true" });
  return [...(action.role === "stop" ? [sign] : []), label, ...(action.hint ? [hint] : [])];
}

function pressed(action) {
  return typeof action.pressed === "boolean" ? String(action.pressed) : null;
}

/** Only pages of this program are opened. */
function ownAddress(address) {
  const url = new URL(address, location.origin);
  return url.origin === location.origin ? url.href : location.origin;
}
