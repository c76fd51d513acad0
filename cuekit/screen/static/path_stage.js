/** The path drawn, with the ball that hops along it and the footfalls as they land. */

import { ballAt, contactsOf, dueAt } from "./ball.js";
import { shape } from "./elements.js";
import { across, layOut, lineAt, shownLines } from "./path.js";

/** How much wider a ball gets that is flat on the floor. */
const WIDENS = 0.6;

/**
 * Draw a picture as a path.
 * @param {SVGElement} svg empty, of the size told
 * @param {Object} picture
 * @param {{width: number, height: number, wordPx: number, still: boolean}} page `still`: nothing may move
 * @returns {{draw: function(number), footfall: function(Object), words: {x: number, y: number, room:
 *   number}}} draw the time, s; add a footfall; where counted words stand, and how high they may be, px
 */
export function pathStage(svg, picture, page) {
  const geometry = layOut(picture, page.width, page.height, page.wordPx);
  const lineOf = new Map(geometry.lines.flatMap((line, n) => line.marks.map((mark) => [mark, n])));
  const rings = picture.marks.map((mark, n) => ring(geometry, lineOf.get(n), mark));
  const lines = geometry.lines.map((_, n) => drawnLine(geometry, n, rings, picture.marks));
  const rolled = roller(geometry, lines);
  const contacts = contactsOf(picture);
  const marked = picture.marker === "path" && picture.live && contacts.length > 0;
  const balls = marked && !page.still ? [ball(geometry), ball(geometry)] : [];
  svg.append(...lines, ...balls);
  const light = lighter(contacts, rings);
  const moveBalls = mover(geometry, picture.marks, lineOf, rolled.isShown);

  const draw = (t) => {
    rolled.show(t);
    if (!marked) return;
    const at = ballAt(contacts, picture.beat_s, t);
    light(page.still ? dueAt(contacts, picture.beat_s, t) : at.hit);
    if (balls.length) moveBalls(balls, at);
  };

  const footfall = ({ t, size }) => {
    const line = lineAt(geometry, t);
    const r = geometry.sizes.small * (0.5 + 0.5 * size);
    lines[line].append(shape("circle", { class: "heard", cx: across(geometry, line, t), cy: 0, r }));
  };

  rolled.show(picture.marks[0].t);
  const above = geometry.ground(0) - geometry.sizes.big;
  return { draw, footfall, words: { x: page.width / 2, y: 0.45 * above, room: 0.66 * above } };
}

/** Show the lines of a time, each in its slot. */
function roller(geometry, lines) {
  let shown = [];
  const show = (t) => {
    const slots = shownLines(geometry, lineAt(geometry, t));
    if (String(slots) === String(shown)) return;
    shown = slots;
    lines.forEach((line, n) => {
      const slot = slots.indexOf(n);
      line.setAttribute("display", slot < 0 ? "none" : "inline");
      if (slot >= 0) line.setAttribute("transform", `translate(0 ${geometry.ground(slot).toFixed(1)})`);
    });
  };
  return { show, isShown: (line) => shown.includes(line) };
}

/** Move the balls: from line to line one leaves and the other comes, so that it is seen coming. */
function mover(geometry, marks, lineOf, isShown) {
  const groundOf = (line) => geometry.ground(line % geometry.slots);
  return ([leaving, coming], at) => {
    const [a, b] = [lineOf.get(at.from), lineOf.get(at.to)];
    const [here, there] = [marks[at.from].t, marks[at.to].t];
    const way = (there - here) * geometry.perS;
    const up = at.height * geometry.hop;
    place(leaving, isShown(a), across(geometry, a, here) + way * at.along, groundOf(a), up, at.flat);
    const came = across(geometry, b, there) - way * (1 - at.along);
    place(coming, a !== b && isShown(b), came, groundOf(b), up, at.flat);
  };
}

/** Fill the ring that is hit, and empty the one before. */
function lighter(contacts, rings) {
  let lit = -1;
  return (now) => {
    if (now === lit) return;
    if (lit >= 0) rings[contacts[lit].mark].classList.remove("hit");
    if (now >= 0) rings[contacts[now].mark].classList.add("hit");
    lit = now;
  };
}

function ring(geometry, line, mark) {
  const r = mark.big ? geometry.sizes.big : geometry.sizes.small;
  return shape("circle", {
    class: mark.silent ? "due silent" : "due",
    cx: across(geometry, line, mark.t),
    cy: 0,
    r,
  });
}

function drawnLine(geometry, n, rings, marks) {
  const line = geometry.lines[n];
  const left = across(geometry, n, line.start) - geometry.sizes.big;
  const right = Math.min(geometry.right, across(geometry, n, line.end));
  const ground = shape("path", { class: "ground", d: `M${left.toFixed(1)} 0H${right.toFixed(1)}` });
  const worded = line.marks.map((mark) => marks[mark]).filter((mark) => geometry.words?.has(mark));
  const words = worded.map((mark) => word(geometry, n, mark));
  return shape("g", { class: "line" }, ground, ...line.marks.map((mark) => rings[mark]), ...words);
}

function word(geometry, line, mark) {
  const y = geometry.sizes.big + 0.95 * geometry.wordPx;
  return shape(
    "text",
    { class: mark.big ? "word" : "word soft", x: across(geometry, line, mark.t), y },
    mark.word,
  );
}

function ball(geometry) {
  return shape("circle", { class: "ball", r: geometry.sizes.ball, cy: -geometry.sizes.ball });
}

/** Put the ball so that its lowest point is `up` above the ground. */
function place(ball, shown, x, ground, up, flat) {
  ball.setAttribute("display", shown ? "inline" : "none");
  const wide = 1 + WIDENS * (1 - flat);
  ball.setAttribute(
    "transform",
    `translate(${x.toFixed(2)} ${(ground - up).toFixed(2)}) scale(${wide.toFixed(3)} ${flat.toFixed(3)})`,
  );
}
