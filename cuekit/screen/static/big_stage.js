/** One floor and one ball, to be seen from the far side of a gym with the sound off. */

import { ballAt, contactsOf, dueAt } from "./ball.js";
import { shape } from "./elements.js";

/**
 * Radius of the big ball against the shorter side: so small that no jump of it is a flash (see the tests).
 */
const BALL_OF_SIDE = 0.14;
const SMALL = 0.6;
/** How much wider a ball gets that is flat on the floor. */
const WIDENS = 0.6;
const FLOOR = 0.88;
const WORDS_ACROSS = 0.78;
/** Counted words stand beside the ball, or above it on an upright page. */
const WORDS_ABOVE = 0.2;
const SIDE_PX = 20;

/**
 * Draw a picture as a bouncing ball.
 * @param {SVGElement} svg empty, of the size told
 * @param {Object} picture
 * @param {{width: number, height: number, still: boolean}} page `still`: nothing may move
 * @returns {{draw: function(number), footfall: function(Object), words: {x: number, y: number, room:
 *   number}}} as `pathStage`
 */
export function bigStage(svg, picture, page) {
  const contacts = contactsOf(picture);
  const r = BALL_OF_SIDE * Math.min(page.width, page.height);
  const [x, floor] = [page.width / 2, FLOOR * page.height];
  const upright = page.height > page.width;
  const hop = Math.max(r, floor - 2 * r - (upright ? WORDS_ABOVE * page.height : 8));
  const thick = Math.max(6, 0.1 * r);
  const dot = Math.min(10, (0.16 * picture.beat_s * page.width) / picture.end);
  const mark = shape("rect", {
    class: "struck",
    x: x - 1.6 * r,
    width: 3.2 * r,
    y: floor,
    height: 3.2 * thick,
    rx: thick,
    display: "none",
  });
  const ground = shape("path", {
    class: "floor",
    d: `M0 ${floor}H${page.width}`,
    "stroke-width": thick,
    transform: `translate(0 ${thick / 2})`,
  });
  const ball = shape("circle", { class: page.still ? "ball still" : "ball", r, cy: -r });
  const across = (t) => SIDE_PX + Math.max(0, Math.min(1, t / picture.end)) * (page.width - 2 * SIDE_PX);
  const due = picture.marks.map(({ t, big }) =>
    shape("circle", { class: "due", cx: across(t), cy: 0, r: dot * (big ? 1 : SMALL) }),
  );
  const feet = shape("g", { transform: `translate(0 ${floor + 3.2 * thick + 14})` }, ...due);
  svg.append(ground, mark, feet, ball);
  const rim = (mark) => (picture.marks[mark].big ? 1 : SMALL);

  const draw = (t) => {
    if (!contacts.length) return;
    const at = ballAt(contacts, picture.beat_s, t);
    const lit = page.still ? dueAt(contacts, picture.beat_s, t) : at.hit;
    mark.setAttribute("display", lit >= 0 ? "inline" : "none");
    ball.classList.toggle("hit", page.still && lit >= 0);
    const size = page.still ? 0.7 * rim(at.from) : rim(at.from) + (rim(at.to) - rim(at.from)) * at.along;
    const [up, flat] = page.still ? [0, 1] : [at.height * hop, at.flat];
    const [wide, high] = [size * (1 + WIDENS * (1 - flat)), size * flat];
    const pressed = `scale(${wide.toFixed(3)} ${high.toFixed(3)})`;
    ball.setAttribute("transform", `translate(${x} ${(floor - up).toFixed(2)}) ${pressed}`);
  };

  const footfall = ({ t, size }) => {
    feet.append(shape("circle", { class: "heard", cx: across(t), cy: 0, r: dot * (0.25 + 0.3 * size) }));
  };

  const words = upright
    ? { x, y: 0.5 * WORDS_ABOVE * page.height, room: WORDS_ABOVE * page.height }
    : { x: WORDS_ACROSS * page.width, y: 0.5 * page.height, room: page.height };
  return { draw, footfall, words };
}
