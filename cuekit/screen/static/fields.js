/** Values that can be set. A change is sent at once. */

import { element } from "./elements.js";

const FEW_OPTIONS = 5;
/** More options than these have the room of two fields. */
const NARROW_OPTIONS = 2;

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
  const box = element("input", {
    id,
    type: "text",
    value: field.value,
    autocomplete: "off",
    spellcheck: "false",
  });
  return labelled(field, id, sendsChange(box, change));
}

function number(field, id, set, words) {
  const { low, high, step } = field;
  const box = element("input", {
    id,
    type: "number",
    inputmode: "decimal",
    min: low,
    max: high,
    step,
    value: field.value,
  });
  let sent = field.value;
  /** What is no number is put back as it was. */
  const change = (value) => {
    const told = value === "" || Number.isNaN(Number(value)) ? sent : within(field, Number(value));
    box.value = told;
    if (told !== sent) set(told);
    sent = told;
  };
  const stepped = (direction) => () => change(Number(box.value) + direction * (step ?? 1));
  const key = (sign, word, direction) => {
    const one = element(
      "button",
      { type: "button", class: "key step", id: `${id}${direction}`, "aria-label": `${field.label} ${word}` },
      sign,
    );
    one.addEventListener("click", stepped(direction));
    return one;
  };
  const row = element(
    "div",
    { class: "stepper" },
    key("−", words.less, -1),
    sendsChange(box, change),
    key("+", words.more, 1),
  );
  return labelled(field, id, row);
}

/** A number kept between its ends, as text without the dust of binary fractions. */
function within(field, value) {
  const kept = Math.min(field.high ?? Infinity, Math.max(field.low ?? -Infinity, value));
  return String(Number(kept.toFixed(6)));
}

function list(field, id, change) {
  const options = field.options.map(({ value, label }) =>
    element("option", { value, selected: value === field.value }, label),
  );
  return labelled(field, id, sendsChange(element("select", { id }, ...options), change));
}

function tiles(field, id, change) {
  const tile = ({ value, label }, place) => {
    const box = element("input", {
      type: "radio",
      id: `${id}-${place}`,
      name: field.name,
      value,
      checked: value === field.value,
    });
    return element("label", { class: "tile" }, sendsChange(box, change), element("span", {}, label));
  };
  const legend = element("legend", {}, field.label);
  return element(
    "fieldset",
    { class: field.options.length > NARROW_OPTIONS ? "field wide" : "field", id },
    legend,
    element("div", { class: "tiles" }, ...field.options.map(tile)),
  );
}

function onOff(field, id, change) {
  const on = field.value === "true";
  const knob = element("span", { class: "track", "aria-hidden": "true" });
  const key = element(
    "button",
    { id, type: "button", class: "switch", role: "switch", "aria-checked": String(on) },
    element("span", {}, field.label),
    knob,
  );
  key.addEventListener("click", () => change(on ? "false" : "true"));
  return element("div", { class: "field" }, key);
}

function sendsChange(box, change) {
  box.addEventListener("change", () => change(box.value));
  return box;
}
