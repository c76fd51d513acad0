/**
 * Where the ball is: a pure function of time. It touches the floor exactly when a footfall is due and flies
 * as a thrown ball does, so a long way takes a high hop and a short way a low one.
 */

/** A way longer than this many beats is waited for on the floor and flown in the last one. */
const REST_BEATS = 1.6;
/** Of the highest hop, so that the shortest is seen too. */
const LOWEST = 0.2;
const SQUASH_S = 0.05;
/** So much less tall on the floor. */
const SQUASHED = 0.3;
/** So long the floor shows that it was hit. */
const HIT_S = 0.08;
/**
 * A hop of this time is as high as there is room; quicker ones stay lower, so that the ball is never a
 * flash.
 */
const FULL_S = 0.6;

/**
 * Times at which the ball is on the floor: counted beats on the place of the first mark, then the marks.
 * Where the cue is silent there is none: a ball that went on would be a cue.
 * @param {{marks: Object[], count: Object[]}} picture
 * @returns {{t: number, mark: number, counted: boolean}[]} in order of time; `mark` by index
 */
export function contactsOf(picture) {
  const counted = picture.count.map(({ t }) => ({ t, mark: 0, counted: true }));
  const due = picture.marks.flatMap(({ t, silent }, mark) => (silent ? [] : [{ t, mark, counted: false }]));
  return [...counted, ...due].sort((a, b) => a.t - b.t);
}

/**
 * The ball at a time.
 * @param {{t: number, mark: number, counted: boolean}[]} contacts at least one, in order
 * @param {number} beatS length of a beat, s
 * @param {number} t s
 * @returns {{from: number, to: number, along: number, height: number, flat: number, hit: number}} the marks
 *   it leaves and goes to, how far it is (0 to 1), its height above the floor against the room there is (0
 *   to 1), how tall it is (1, less on the floor), and the index of the contact just made (-1 for none)
 */
export function ballAt(contacts, beatS, t) {
  const n = lastBefore(contacts, t);
  const [last, next] = [contacts[n], contacts[n + 1]];
  const since = last ? t - last.t : Infinity;
  const hit = since < HIT_S ? n : -1;
  const flight = next ? flightTo(last, next, beatS) : 0;
  if (!next || t < next.t - flight) {
    const here = (last ?? next).mark;
    return { from: here, to: here, along: 0, height: 0, flat: flatness(since), hit };
  }
  const along = 1 - (next.t - t) / flight;
  const longest = longestFlight(contacts, beatS);
  const top = Math.min(1, longest / FULL_S) * Math.min(1, Math.max(LOWEST, (flight / longest) ** 2));
  const height = top * 4 * along * (1 - along);
  return {
    from: (last ?? next).mark,
    to: next.mark,
    along,
    height,
    flat: flatness(Math.min(since, next.t - t)),
    hit,
  };
}

/**
 * The contact whose place is filled where nothing may move: from its time until half-way to the next one.
 * @returns {number} its index, -1 for none
 */
export function dueAt(contacts, beatS, t) {
  const n = lastBefore(contacts, t);
  if (n < 0) return -1;
  const way = Math.min(beatS, (contacts[n + 1]?.t ?? Infinity) - contacts[n].t);
  return t - contacts[n].t < 0.5 * way ? n : -1;
}

/** Index of the last contact at or before a time; -1 before the first. */
function lastBefore(contacts, t) {
  let [low, high] = [0, contacts.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (contacts[middle].t <= t) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

function flightTo(last, next, beatS) {
  const way = last ? next.t - last.t : Infinity;
  return way > REST_BEATS * beatS ? beatS : way;
}

/** Longest flight from mark to mark; of the counted beats where there is none. */
function longestFlight(contacts, beatS) {
  const flights = contacts
    .slice(1)
    .map((next, n) => (contacts[n].counted ? 0 : flightTo(contacts[n], next, beatS)));
  return Math.max(0, ...flights) || beatS;
}

function flatness(fromFloorS) {
  return 1 - SQUASHED * Math.max(0, 1 - fromFloorS / SQUASH_S);
}
