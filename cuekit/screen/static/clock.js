/**
 * The program's clock, kept running between what it tells.
 *
 * A tick says that time `t` of the bout was heard at `wall` of the computer's clock. Sound cards tell their
 * time unevenly, by some ms, so the difference of both is smoothed; a jump is taken at once.
 */

const JUMP_S = 0.1;
const WEIGHT = 0.15;
const SAME_CLOCK_S = 1.5;

/**
 * The difference of both clocks after one more tick.
 * @param {number|null} before the difference so far, s; null before the first tick
 * @param {{t: number, wall: number}} tick
 * @param {number} now when the tick came, s of this computer's clock
 * @returns {number} what to add to this computer's clock, s
 */
export function difference(before, tick, now) {
  const told = tick.t - (Math.abs(now - tick.wall) < SAME_CLOCK_S ? tick.wall : now);
  if (before === null || Math.abs(told - before) > JUMP_S) return told;
  return before + WEIGHT * (told - before);
}

/**
 * A clock of the bout.
 * @returns {{tick: function(Object), now: function(): number|null, reset: function()}} `now` in s; null
 *   before the first tick
 */
export function makeClock() {
  let offset = null;
  const wall = () => Date.now() / 1000;
  return {
    tick: (tick) => {
      offset = difference(offset, tick, wall());
    },
    now: () => (offset === null ? null : wall() + offset),
    reset: () => {
      offset = null;
    },
  };
}
