/** A view put on the page, part by part: a part that says the same as before is not touched. */

import { actionKey } from "./actions.js";
import { stones } from "./child.js";
import { closeUp, drawingNode } from "./drawing.js";
import { fileKey } from "./drop.js";
import { element } from "./elements.js";
import { fieldBox } from "./fields.js";
import { keepPlace } from "./focus.js";
import { showPicture } from "./picture.js";
import { table } from "./rows.js";

const TAKES_FILES = ["learners", "plan", "told"];
const SHOWS_FILE_KEY = ["learners", "plan"];
const MANY_KEYS = 4;
/** Beside the main key; more make it narrower. */
const LONG_LEAD = 90;
/** Letters from which on the sentence is set smaller, so that all of it is seen at once. */

/**
 * Whether a recording dropped on this view is taken.
 * @param {Object} view
 * @returns {boolean}
 */
export function takesFiles(view) {
  return TAKES_FILES.includes(view.name) && Boolean(view.texts.drop);
}

/**
 * The page that shows views.
 * @param {{take: function(Object), set: function(string, string), file: function(File)}} can what the page can do
 * @param {{now: function(): number|null}} clock
 * @returns {{show: function(Object), message: function(string), away: function(string), footfall: function(Object)}}
 */
export function makePage(can, clock) {
  const part = (name) => document.getElementById(name);
  const drawn = new Map();
  let picture = null;

  /** Fill a part, if what it shows has changed, and say so; nothing to show hides it. */
  const fill = (name, shows, nodes) => {
    const told = JSON.stringify(shows);
    if (drawn.get(name) === told) return false;
    drawn.set(name, told);
    const inside = nodes().filter((node) => node !== null);
    part(name).replaceChildren(...inside);
    part(name).hidden = inside.length === 0;
    return true;
  };

  const say = (name, words) => {
    if (part(name).textContent !== words) part(name).textContent = words;
  };

  const message = (words) => say("message", words);

  const showWords = (view) => {
    say("title", view.title);
    say("who", view.who);
    part("who").hidden = !view.who;
    say("lead", view.lead);
    part("lead").classList.toggle("long", view.lead.length > LONG_LEAD);
    message(view.message);
    fill("lines", view.lines, () => view.lines.map((line) => element("p", {}, line)));
    say("cautions-heading", view.texts.cautions ?? "");
    part("cautions").hidden = view.cautions.length === 0;
    fill("cautions-list", view.cautions, () => view.cautions.map((line) => element("li", {}, line)));
    fill("child", view.child, () => (view.child ? [stones(view.child), element("p", {}, view.child.words)] : []));
    if (fill("drawing", view.drawing, () => drawings(view.drawing))) closeUp(part("drawing"));
    fill("plot", view.plot, () => drawings(view.plot));
  };

  const showKeys = (view) => {
    const keys = (roles) => view.actions.filter((one) => roles.includes(one.role)).map((one) => actionKey(one, can.take));
    fill("choices", view.actions, () => keys(["choice"]));
    part("choices").classList.toggle("worded", view.actions.some((one) => one.role === "choice" && one.label.includes(" ")));
    fill("dock", view.actions, () => dock(keys));
    part("dock").classList.toggle("many", view.actions.filter((one) => one.role === "plain").length > MANY_KEYS);
    const words = { less: view.texts.less ?? "−", more: view.texts.more ?? "+" };
    fill("fields", view.fields, () => view.fields.map((field) => fieldBox(field, can.set, words)));
    const drop = SHOWS_FILE_KEY.includes(view.name) ? view.texts.drop : "";
    fill("drop", drop, () => (drop ? [fileKey(drop, can.file)] : []));
    fill("rows", [view.columns, view.rows], () => (view.rows.length ? [table(view.columns, view.rows, can.take, view.title)] : []));
  };

  const showPictureOf = (view) => {
    const told = JSON.stringify(view.picture);
    if (drawn.get("picture") === told) return;
    drawn.set("picture", told);
    picture?.remove();
    part("picture").hidden = view.picture === null;
    picture = view.picture && showPicture(part("picture"), view.picture, view.heard, view.texts.picture ?? view.title, clock);
  };

  const show = (view) => {
    const before = document.body.dataset.view;
    const place = keepPlace();
    const another = document.title !== view.title || before !== view.name;
    document.documentElement.lang = view.language;
    document.title = view.title;
    document.body.dataset.view = view.name;
    if (before === "bout" && view.name !== "bout") clock.reset();
    showWords(view);
    showKeys(view);
    showPictureOf(view);
    // While a bout runs the key that stops it comes first for the Tab key too.
    if (view.name === "bout") part("main").prepend(part("dock"));
    else if (part("main").lastElementChild !== part("dock")) part("main").append(part("dock"));
    place.back(before !== undefined && another);
  };

  return { show, message, away: (words) => say("away", words ?? ""), footfall: (fall) => picture?.footfall(fall) };
}

function drawings(source) {
  return source ? [drawingNode(source)] : [];
}

/** The keys that stay in reach: stop or the main key large, the others beside it. */
function dock(keys) {
  const large = keys(["stop", "main"]);
  const plain = keys(["plain"]);
  const beside = plain.length ? [element("div", { class: "beside" }, ...plain)] : [];
  return [...large, ...beside];
}
