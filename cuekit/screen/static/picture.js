/** The picture of a bout: which kind is drawn, in the size there is, and moved with the clock. */

import { bigStage } from "./big_stage.js";
import { shape } from "./elements.js";
import { pathStage } from "./path_stage.js";
import { stripStage } from "./strip_stage.js";

/** A clock that goes back so far has begun anew. */
const ANEW_S = 1;
const COUNT_STAYS_BEATS = 1;
/** Against the picture: a change of it is no flash. */
const COUNT_OF_HEIGHT = 0.17;
const COUNT_OF_WIDTH = 0.75;
const LINE_HEIGHT = 1.5;

/**
 * Show a picture until it is taken away.
 * @param {HTMLElement} host
 * @param {Object} picture
 * @param {{t: number, size: number}[]} heard so far
 * @param {string} name said by a screen reader
 * @param {{now: function(): number|null}} clock
 * @returns {{footfall: function(Object), remove: function()}}
 */
export function showPicture(host, picture, heard, name, clock) {
  const falls = [...heard];
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  let stage = null;
  let frame = 0;
  let latest = -Infinity;

  const build = () => {
    if (!host.clientWidth || !host.clientHeight) return;
    stage = newStage(host, picture, name, calm.matches);
    falls.forEach(stage.footfall);
    draw();
  };

  const draw = () => {
    const t = (picture.live ? clock.now() : null) ?? -Infinity;
    if (t < latest - ANEW_S) forget();
    latest = t;
    stage?.draw(t);
    stage?.count(t);
  };

  /** The same bout from its start again. */
  const forget = () => {
    falls.length = 0;
    for (const dot of host.querySelectorAll(".heard")) dot.remove();
  };

  const move = () => {
    draw();
    frame = requestAnimationFrame(move);
  };

  const sized = new ResizeObserver(build);
  sized.observe(host);
  calm.addEventListener("change", build);
  build();
  if (picture.live) move();

  return {
    footfall: (fall) => {
      falls.push(fall);
      stage?.footfall(fall);
    },
    remove: () => {
      sized.disconnect();
      calm.removeEventListener("change", build);
      cancelAnimationFrame(frame);
      host.replaceChildren();
    },
  };
}

/** The picture drawn in the size of its place. */
function newStage(host, picture, name, still) {
  const [width, height] = [host.clientWidth, host.clientHeight];
  const svg = shape("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": name });
  host.replaceChildren(svg);
  const wordPx = LINE_HEIGHT * Number.parseFloat(getComputedStyle(host).fontSize);
  const drawn = kindOf(picture)(svg, picture, { width, height, wordPx, still });
  const counted = drawn.words ? countIn(svg, picture, drawn.words, { width, height }) : () => {};
  return { ...drawn, count: counted };
}

function kindOf(picture) {
  if (!picture.cued || !picture.marks.length) return stripStage;
  return picture.marker === "big" && picture.live ? bigStage : pathStage;
}

/** The counted word of the moment, large over the picture. */
function countIn(svg, picture, { x, y, room }, { width, height }) {
  const longest = Math.max(1, ...picture.count.map(({ word }) => word.length));
  const size = Math.min(room, COUNT_OF_HEIGHT * height, (COUNT_OF_WIDTH * width) / longest);
  const words = shape("text", { class: "count", x, y, "font-size": size.toFixed(0), "aria-hidden": "true" });
  svg.append(words);
  const over = picture.marks[0]?.t ?? 0;
  return (t) => {
    const now = picture.count.findLast((count) => count.t <= t);
    const word = now && t < Math.min(over, now.t + COUNT_STAYS_BEATS * picture.beat_s) ? now.word : "";
    if (words.textContent !== word) words.textContent = word;
  };
}
