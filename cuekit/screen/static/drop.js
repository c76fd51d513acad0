/** A recording from a phone, dropped on the page or chosen by key. */

import { element } from "./elements.js";

/**
 * The place that takes a recording by key or touch.
 * @param {string} label
 * @param {function(File)} take
 * @returns {HTMLElement}
 */
export function fileKey(label, take) {
  const box = element("input", { type: "file", id: "recording" });
  box.addEventListener("change", () => {
    if (box.files.length) take(box.files[0]);
    box.value = "";
  });
  return element("label", { class: "file" }, box, element("span", {}, label));
}

/**
 * Take recordings dropped anywhere. A file dropped where none is wanted is never opened by the browser.
 * @param {function(): boolean} wanted whether one is taken now
 * @param {function(File)} take
 */
export function listenToDrops(wanted, take) {
  const over = (on) => document.body.classList.toggle("dropping", on);
  document.addEventListener("dragover", (drag) => {
    drag.preventDefault();
    drag.dataTransfer.dropEffect = wanted() ? "copy" : "none";
    over(wanted());
  });
  document.addEventListener("dragleave", (drag) => {
    if (!drag.relatedTarget) over(false);
  });
  document.addEventListener("drop", (drag) => {
    drag.preventDefault();
    over(false);
    const [file] = drag.dataTransfer.files;
    if (file && wanted()) take(file);
  });
}
