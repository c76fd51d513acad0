/** Drawings made by the program, taken in without what could act. */

const NEVER = "script, foreignObject, iframe, object, embed, style, animate, set, animateTransform, animateMotion";

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
