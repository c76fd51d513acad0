/** What the program tells the page, as server-sent events. */

const AGAIN_MS = 2000;

/**
 * Listen until the page is closed. The browser itself connects again after a break; where it gave up (the
 * program was started anew), this tries on.
 * @param {{view: function(Object), clock: function(Object), footfall: function(Object), away:
 *   function(boolean)}} told
 */
export function listen(told) {
  const source = new EventSource("/events");
  source.addEventListener("open", () => told.away(false));
  for (const name of ["view", "clock", "footfall"]) {
    source.addEventListener(name, (event) => told[name](JSON.parse(event.data)));
  }
  source.addEventListener("error", () => {
    told.away(true);
    if (source.readyState === EventSource.CLOSED) setTimeout(() => listen(told), AGAIN_MS);
  });
}
