/** Values that can be set. A change is sent at once. */

import { element } from "./elements.js";

const FEW_OPTIONS = 5;

/**
 * A field with its label.
 * @param {Object} field
 * @param {function(string, string)} set called with name and value
 * @param {{less: string, more: string}} words of the two keys beside a number
 * @returns {HTMLElement}
 */
export function fieldBox(field, set, words) {
  const id = `field-${field.name}`;
  const change = (value) => set(field.name, value);
  const kinds = { number, text, switch: onOff, choice: field.options.length > FEW_OPTIONS ? list : tiles };
  return kinds[field.kind](field, id, change, words);
}

function labelled(field, id, ...inside) {
  return element("div", { class: "field" }, element("label", { for: id }, field.label), ...inside);
}

function text(field, id, change) {
  const box = element("input", { id, type: "text", value: field.value, autocomplete: "off", spellcheck: "false" });
  return labelled(field, id, sendsChange(box, change));
}

function number(field, id, change, words) {
  const { low, high, step } = field;
  const box = element("input", { id, type: "number", inputmode: "decimal", min: low, max: high, step, value: field.value });
  const stepped = (direction) => () => {
    const value = within(field, Number(box.value) + direction * (step ?? 1));
    box.value = value;
    change(value);
  };
  const key = (sign, word, direction) => {
    const one = element("button", { type: "button", class: "key step", id: `${id}${direction}`, "aria-label": `${field.label} ${word}` }, sign);
    one.addEventListener("click", stepped(direction));
    return one;
  };
  const row = element("div", { class: "stepper" }, key("−", words.less, -1), sendsChange(box, (value) => change(within(field, Number(value)))), key("+", words.more, 1));
  return labelled(field, id, row);
}

/** A number kept between its ends, as text without the dust of binary fractions. */
function within(field, value) {
  const kept = Math.min(field.high ?? Infinity, Math.max(field.low ?? -Infinity, value));
  return String(Number(kept.toFixed(6)));
}

function list(field, id, change) {
  const options = field.options.map(({ value, label }) => element("option", { value, selected: value === field.value }, label));
  return labelled(field, id, sendsChange(element("select", { id }, ...options), change));
}

function tiles(field, id, change) {
  const tile = ({ value, label }, place) => {
    const box = element("input", { type: "radio", id: `${id}-${place}`, name: field.name, value, checked: value === field.value });
    return element("label", { class: "tile" }, sendsChange(box, change), element("span", {}, label));
  };
  const legend = element("legend", {}, field.label);
  return element("fieldset", { class: "field", id }, legend, element("div", { class: "tiles" }, ...field.options.map(tile)));
}

function onOff(field, id, change) {
  const on = field.value === "on";
  const knob = element("span", { class: "track", "aria-hidden": "true" });
  const key = element("button", { id, type: "button", class: "switch", role: "switch", "aria-checked": String(on) }, element("span", {}, field.label), knob);
  key.addEventListener("click", () => change(on ? "off" : "on"));
  return element("div", { class: "field" }, key);
}

function sendsChange(box, change) {
  box.addEventListener("change", () => {
    if (box.checkValidity() || box.type === "number") change(box.value);
  });
  return box;
}
