/** From tile to tile, and from row to row, with the arrow keys or a clicker; Enter or space then takes it. */

const FURTHER = ["ArrowRight", "ArrowDown", "PageDown"];
const BACK = ["ArrowLeft", "ArrowUp", "PageUp"];

/**
 * Move the keyboard to the next tile or the one before, where there are any.
 * @param {string} key that no action of the view has
 * @returns {boolean} whether it went anywhere
 */
export function walk(key) {
  const by = FURTHER.includes(key) ? 1 : BACK.includes(key) ? -1 : 0;
  if (!by) return false;
  const tiles = [...document.querySelectorAll("#choices .key")];
  const places = tiles.length ? tiles : [...document.querySelectorAll("#rows .acts .key:first-child")];
  if (!places.length) return false;
  const here = places.findIndex((place) => place === document.activeElement);
  const last = places.length - 1;
  const next = here < 0 ? (by > 0 ? 0 : last) : Math.min(last, Math.max(0, here + by));
  places[next].focus();
  places[next].scrollIntoView({ block: "nearest" });
  return true;
}
