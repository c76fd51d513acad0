/** The parts of the page by their names: each is filled anew only when what it shows has changed. */

/**
 * The parts of this page.
 * @returns {{part: function(string): HTMLElement, say: function(string, string), fill: function(string, *,
 *   function(): (Node|null)[]): boolean}} `say` sets the words of a part; `fill` its elements, made by the
 *   function if `shows` is not what the part was last filled for, and tells whether it was; nothing hides it
 */
export function makeParts() {
  const filledFor = new Map();
  const part = (name) => document.getElementById(name);

  const say = (name, words) => {
    if (part(name).textContent !== words) part(name).textContent = words;
  };

  const fill = (name, shows, nodes) => {
    const told = JSON.stringify(shows);
    if (filledFor.get(name) === told) return false;
    filledFor.set(name, told);
    const inside = nodes().filter((node) => node !== null);
    part(name).replaceChildren(...inside);
    part(name).hidden = inside.length === 0;
    return true;
  };

  return { part, say, fill };
}
