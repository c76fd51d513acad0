/** What the child sees: stones across, filled one by one. No number, and nothing that says no. */

import { shape } from "./elements.js";

const STEP = 150;
/** Outlines of stones, each a little different, about (0, 0). */
const HIGH = 220;
const STONES = [
  "M-54 6C-56-22-30-40 2-38C36-37 58-20 55 8C52 32 26 42-4 40C-34 39-52 28-54 6Z",
  "M-52-4C-46-30-16-42 16-37C44-32 58-12 52 12C46 34 14 42-16 38C-44 34-57 20-52-4Z",
  "M-55 10C-58-14-40-34-8-40C26-44 54-24 56 2C58 28 34 42 2 40C-28 40-52 34-55 10Z",
];
/** A sole: ball and heel of a foot that goes to the right. */
const SOLE = "M-12 0C-12-12-2-13 10-17C30-22 48-15 48 0C48 14 30 19 10 15C-2 12-12 12-12 0Z";

/**
 * The path of stones.
 * @param {{filled: number, pictures: number}} child
 * @returns {SVGElement}
 */
export function stones(child) {
  const wide = STEP * child.pictures;
  const drawn = Array.from({ length: child.pictures }, (_, n) => stone(n, n < child.filled));
  return shape(
    "svg",
    { class: "stones", viewBox: `0 0 ${wide} ${HIGH}`, "aria-hidden": "true", focusable: "false" },
    ...drawn,
  );
}

function stone(n, full) {
  const x = STEP * (n + 0.5);
  const y = HIGH / 2 + (n % 2 ? -38 : 38);
  const outline = shape("path", { class: "stone", d: STONES[n % STONES.length], transform: "scale(1.2)" });
  const sole = shape(
    "g",
    { class: "sole", transform: `rotate(${n % 2 ? 8 : -8})` },
    shape("path", { d: SOLE }),
    shape("ellipse", { cx: -33, cy: 0, rx: 15, ry: 13.5 }),
  );
  return shape(
    "g",
    { class: full ? "full" : "open", transform: `translate(${x} ${y})` },
    outline,
    ...(full ? [sole] : []),
  );
}
