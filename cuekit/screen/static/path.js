/** The path the feet travel: lines of beats one under the other, distance is time, size is long or short. */

const BEATS_A_LINE = [4, 8, 16];
/** Least room of a beat. */
const BEAT_PX = { uneven: 110, even: 80 };
/** Most that a footfall may be before the first place of a line to be early for that one. */
const EARLY_BEATS = 0.25;
/** Half a letter against the height of a line of words. */
const LETTER_EM = 0.2;
const GAP_BEATS = 1.3;
const SIDE_PX = 18;
const [SMALLEST, LARGEST] = [7, 44];
/** Of the big ring; as on the printed page. */
const SHORT = 0.58;
const BALL = 0.68;
const [LOWEST_HOP, HIGHEST_HOP] = [40, 240];
const HOP_OF_WAY = 1.2;
const LEAST_OF_HOP = 0.3;
const LEAST_HOP_PX = 8;
const ROW_GAP_PX = 14;

/**
 * Where everything of a picture stands.
 * @param {Object} picture with at least one mark
 * @param {number} width px
 * @param {number} height px
 * @param {number} wordPx height of a line of words
 * @returns {Object} lines, their scale, sizes and slots; see `place`
 */
export function layOut(picture, width, height, wordPx) {
  const room = width - 2 * SIDE_PX;
  const least = picture.uneven ? BEAT_PX.uneven : BEAT_PX.even;
  const choices = BEATS_A_LINE.filter((beats, n) => n === 0 || room / beats >= least);
  const laid = choices.map((beats) => laidBy(picture, beats, room, height, wordPx));
  // As large as all of it is seen at once; where that cannot be, as much as can be.
  return laid.find((one) => one.slots === one.lines.length) ?? laid.at(-1);
}

function laidBy(picture, beats, room, height, wordPx) {
  const lines = linesOf(picture, beats);
  const longest = Math.max(...lines.map((line) => line.end - line.start), beats * picture.beat_s * 0.5);
  const earlyS = Math.min(EARLY_BEATS * picture.beat_s, 0.5 * shortestWay(picture));
  const sizes = ringSizes(picture, room, longest);
  const before = Math.max(sizes.big, (earlyS * room) / longest + sizes.small);
  const perS = (room - before - sizes.small) / longest;
  const words = wordsShown(picture, perS, wordPx);
  const fixed = 2 * sizes.ball + sizes.big + (words ? wordPx : 0) + ROW_GAP_PX;
  const wanted = Math.min(HIGHEST_HOP, Math.max(LOWEST_HOP, HOP_OF_WAY * longestWay(picture) * perS));
  const leastHop = Math.max(LOWEST_HOP, LEAST_OF_HOP * wanted);
  const slots = Math.max(1, Math.min(lines.length, Math.floor(height / (fixed + leastHop))));
  const hop = Math.max(LEAST_HOP_PX, Math.min(wanted, height / slots - fixed));
  const rowPx = Math.min(height / slots, (fixed + hop) * 1.25);
  const top = (height - rowPx * slots) / 2;
  const ground = (slot) => top + rowPx * slot + (rowPx - fixed - hop) / 2 + hop + 2 * sizes.ball;
  return {
    lines,
    left: SIDE_PX + before,
    right: SIDE_PX + room,
    perS,
    sizes,
    slots,
    hop,
    ground,
    words,
    wordPx,
    earlyS,
  };
}

/**
 * Which marks have their word below: all where they do not run into each other, else those that start a
 * beat.
 */
function wordsShown(picture, perS, wordPx) {
  const room = (marks) =>
    marks
      .slice(1)
      .every(
        (mark, n) =>
          (mark.t - marks[n].t) * perS > LETTER_EM * wordPx * (mark.word.length + marks[n].word.length + 1),
      );
  const worded = picture.marks.filter((mark) => mark.word);
  const choices = [worded, worded.filter((mark) => mark.place === 0)];
  const shown = choices.find((marks) => marks.length > 0 && room(marks));
  return shown ? new Set(shown) : null;
}

/**
 * How far from the left edge a time stands on a line.
 * @returns {number} px
 */
export function across(geometry, line, t) {
  return geometry.left + (t - geometry.lines[line].start) * geometry.perS;
}

/**
 * The line a time belongs to: a footfall a little before a line's first place is early for that one.
 * @param {Object} geometry
 * @param {number} t s
 * @returns {number}
 */
export function lineAt(geometry, t) {
  const later = geometry.lines.findLastIndex((line) => t >= line.start - geometry.earlyS);
  return Math.max(0, later);
}

/**
 * The line shown in each slot while one is under way: a line done makes room for one to come.
 * @returns {number[]} by slot
 */
export function shownLines(geometry, current) {
  const { slots, lines } = geometry;
  const first = Math.max(0, Math.min(current, lines.length - slots));
  const shown = [];
  for (let line = first; line < first + slots; line += 1) shown[line % slots] = line;
  return shown;
}

function linesOf(picture, beats) {
  const { marks, beat_s: beatS } = picture;
  const lines = [];
  marks.forEach((mark, n) => {
    const line = lines.at(-1);
    const done = line ? (mark.t - line.start) / beatS : 0;
    const apart = n > 0 && mark.t - marks[n - 1].t > GAP_BEATS * beatS && done >= beats / 2;
    if (line && !apart && (mark.place > 0 || done < beats - 0.25)) line.marks.push(n);
    else lines.push({ start: mark.t, marks: [n] });
  });
  lines.forEach((line, n) => {
    line.end = lines[n + 1]?.start ?? marks[line.marks.at(-1)].t + 0.5 * beatS;
    line.end = Math.min(line.end, marks[line.marks.at(-1)].t + beatS);
  });
  return lines;
}

/** Rings as large as neighbours allow. */
function ringSizes(picture, room, longestS) {
  const perS = room / (longestS + 0.3 * picture.beat_s);
  const big = Math.max(
    SMALLEST,
    Math.min(LARGEST, 0.92 * Math.min(0.42 * picture.beat_s * perS, (shortestWay(picture) * perS) / 1.75)),
  );
  return { big, small: SHORT * big, ball: BALL * big };
}

function ways(picture) {
  return picture.marks.slice(1).map((mark, n) => mark.t - picture.marks[n].t);
}

function shortestWay(picture) {
  return Math.min(picture.beat_s, ...ways(picture));
}

function longestWay(picture) {
  return Math.max(0, ...ways(picture).filter((way) => way <= GAP_BEATS * picture.beat_s)) || picture.beat_s;
}
