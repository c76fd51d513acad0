/** Drawings made by the program, taken in without what could act. */

const NEVER =
  "script, foreignObject, iframe, object, embed, style, animate, set, animateTransform, animateMotion";

const RIM = 6;

/**
 * A drawing as a node of this page.
 * @param {string} source SVG
 * @returns {SVGElement|null} null where it is none
 */
export function drawingNode(source) {
  const parsed = new DOMParser().parseFromString(source, "image/svg+xml");
  const drawn = parsed.documentElement;
  if (drawn.localName !== "svg" || parsed.querySelector("parsererror")) return null;
  for (const node of drawn.querySelectorAll(NEVER)) node.remove();
  for (const node of [drawn, ...drawn.querySelectorAll("*")]) {
    for (const { name } of [...node.attributes]) {
      if (/^on|href$|^style$/i.test(name)) node.removeAttribute(name);
    }
  }
  return document.importNode(fitted(drawn), true);
}

/** As wide as the page lets it be. */
function fitted(drawn) {
  drawn.removeAttribute("width");
  drawn.removeAttribute("height");
  return drawn;
}

/**
 * Show the lines of a bout's path as large as the page allows; what stands around them is on the printed
 * page.
 * @param {HTMLElement} host with the drawing in it, shown
 */
export function closeUp(host) {
  const lines = [...host.querySelectorAll("svg > g.line")].map((line) => line.getBBox());
  if (!lines.length) return;
  const [left, top] = [Math.min(...lines.map((box) => box.x)), Math.min(...lines.map((box) => box.y))];
  const right = Math.max(...lines.map((box) => box.x + box.width));
  const bottom = Math.max(...lines.map((box) => box.y + box.height));
  const edges = [left - RIM, top - RIM, right - left + 2 * RIM, bottom - top + 2 * RIM];
  host.querySelector("svg").setAttribute("viewBox", edges.map((edge) => edge.toFixed(1)).join(" "));
}
