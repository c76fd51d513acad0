/**
 * Elements made from plain values. Text is always text: nothing that comes with a view is ever parsed as
 * HTML.
 */

const SVG = "http://www.w3.org/2000/svg";

/**
 * An HTML element.
 * @param {string} tag
 * @param {Object<string, string|number|boolean|null|undefined>} [attributes] true is an empty attribute;
 *   false, null and undefined are left out
 * @param {...(Node|string)} inside elements, or text
 * @returns {HTMLElement}
 */
export function element(tag, attributes = {}, ...inside) {
  return filled(document.createElement(tag), attributes, inside);
}

/**
 * An SVG element; as `element`.
 * @returns {SVGElement}
 */
export function shape(tag, attributes = {}, ...inside) {
  return filled(document.createElementNS(SVG, tag), attributes, inside);
}

function filled(node, attributes, inside) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...inside);
  return node;
}
