/** Nobody there: the page is emptied after a while, so that no child's result stays on the wall. */

const REST_MS = 10 * 60 * 1000;
const SIGNS_OF_LIFE = ["keydown", "pointerdown", "pointermove", "wheel", "touchstart"];

/**
 * Call when nothing was touched for ten minutes.
 * @param {function(): boolean} busy whether something runs that must stay on the page
 * @param {function()} rest
 */
export function whenLeftAlone(busy, rest) {
  let timer = 0;
  const wake = () => {
    clearTimeout(timer);
    timer = setTimeout(over, REST_MS);
  };
  const over = () => {
    if (!busy()) rest();
    wake();
  };
  for (const sign of SIGNS_OF_LIFE) document.addEventListener(sign, wake, { passive: true });
  wake();
}
