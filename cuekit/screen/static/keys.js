/** Which action a key of the keyboard or clicker takes. */

import { walk } from "./walk.js";

const MODIFIERS = new Set([
  "Shift",
  "Control",
  "Alt",
  "AltGraph",
  "Meta",
  "CapsLock",
  "NumLock",
  "Fn",
  "Dead",
  "Process",
  "Unidentified",
]);
const NOT_OURS = /^(Audio|Brightness|Media|Launch|Microphone)/;

/**
 * The action of a key.
 *
 * In a bout every key that has no action of its own stops: nobody looks for the right key then. Keys of the
 * loudspeaker and those held for a shortcut of the browser stay what they are. In the view "blank" any key
 * takes the first action.
 * @param {Object} view
 * @param {{key: string, code: string, ctrlKey: boolean, metaKey: boolean, altKey: boolean}} press
 * @returns {Object|null}
 */
export function actionFor(view, press) {
  if (press.ctrlKey || press.metaKey || press.altKey) return null;
  if (MODIFIERS.has(press.key) || NOT_OURS.test(press.key)) return null;
  const names = namesOf(press);
  const named = view.actions.find((action) => action.keys.some((key) => names.includes(key.toLowerCase())));
  if (named) return named;
  if (view.name === "bout") return view.actions.find((action) => action.role === "stop") ?? null;
  return view.name === "blank" ? (view.actions[0] ?? null) : null;
}

/**
 * Take actions by keys.
 * @param {function(): Object|null} shown the view shown now
 * @param {function(Object)} take
 */
export function listenToKeys(shown, take) {
  let spent = null;
  document.addEventListener("keydown", (press) => {
    const view = shown();
    if (!view || press.defaultPrevented) return;
    const bout = view.name === "bout";
    if (isTyping(press.target) && !(bout && press.key === "Escape")) {
      if (press.key === "Escape") press.target.blur();
      return;
    }
    if (!bout && belongsTo(press.target, press.key)) return;
    const action = actionFor(view, press);
    if (!action) return walks(view, press) && press.preventDefault();
    press.preventDefault();
    spent = press.code;
    if (!press.repeat) take(action);
  });
  // A key that sits on a button would press it once more when it is let go.
  document.addEventListener("keyup", (release) => {
    if (release.code === spent && release.code === "Space") release.preventDefault();
    spent = null;
  });
}

function walks(view, press) {
  const held = press.ctrlKey || press.metaKey || press.altKey || press.shiftKey;
  return !held && !["bout", "blank"].includes(view.name) && walk(press.key);
}

function namesOf(press) {
  const names = [press.key === " " ? "space" : press.key.toLowerCase(), press.code.toLowerCase()];
  const digit = /^(?:digit|numpad)(\d)$/.exec(names[1]);
  return digit ? [...names, digit[1]] : names;
}

function isTyping(target) {
  if (target instanceof HTMLInputElement)
    return !["radio", "checkbox", "button", "file"].includes(target.type);
  return target instanceof HTMLTextAreaElement || target instanceof HTMLSelectElement;
}

/** Whether the element in focus does something of its own with this key. */
function belongsTo(target, key) {
  if (!(target instanceof HTMLElement)) return false;
  if (target.matches("input[type=radio]")) return key === " " || key.startsWith("Arrow");
  return target.matches("button, a[href], summary, input") && (key === " " || key === "Enter");
}
