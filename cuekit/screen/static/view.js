/** A view put on the page, part by part. */

import { actionKey } from "./actions.js";
import { stones } from "./child.js";
import { closeUp, drawingNode } from "./drawing.js";
import { fileKey } from "./drop.js";
import { element } from "./elements.js";
import { fieldBox } from "./fields.js";
import { keepPlace } from "./focus.js";
import { makeLead } from "./lead.js";
import { makeParts } from "./parts.js";
import { showPicture } from "./picture.js";
import { table } from "./rows.js";
import { listenToSounds } from "./sounds.js";

const TAKES_FILES = ["learners", "plan", "told"];
const SHOWS_FILE_KEY = ["learners", "plan"];
/** Keys beside the main one; more make it narrower. */
const MANY_KEYS = 4;
/** Letters from which on the sentence is set smaller, so that all of it is seen at once. */
const LONG_LEAD = 90;
/** Letters of a label from which on tiles are wide. */
const LONG_LABEL = 36;

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
 * @param {{take: function(Object), set: function(string, string), file: function(File)}} can what the page
 *   can do
 * @param {{now: function(): number|null, reset: function()}} clock of the bout
 * @returns {{show: function(Object), message: function(string), away: function(string), footfall:
 *   function(Object)}}
 */
export function makePage(can, clock) {
  const parts = makeParts();
  const picture = pictureOfView(parts, clock);
  const lead = makeLead(parts, clock);
  listenToSounds(parts.part("drawing"), (number) => can.take({ name: "sound", values: { number }, opens: "" }));

  const show = (view) => {
    const before = document.body.dataset.view;
    const another = document.title !== view.title || before !== view.name;
    const place = keepPlace();
    document.documentElement.lang = view.language;
    document.title = view.title;
    document.body.dataset.view = view.name;
    if (before === "bout" && view.name !== "bout") clock.reset();
    showWords(parts, view);
    lead.show(view);
    showDrawings(parts, view);
    showKeys(parts, view, can);
    showValues(parts, view, can);
    picture.show(view);
    placeDock(parts, view.name === "bout");
    place.back(before !== undefined && another);
  };

  return {
    show,
    message: (words) => parts.say("message", words),
    away: (words) => parts.say("away", words ?? ""),
    footfall: (fall) => {
      lead.footfall();
      picture.footfall(fall);
    },
  };
}

function showWords({ part, say, fill }, view) {
  say("title", view.title);
  say("who", view.who);
  part("who").hidden = !view.who;
  part("lead").classList.toggle("long", view.lead.length > LONG_LEAD);
  say("message", view.message);
  fill("lines", view.lines, () => view.lines.map((line) => element("p", {}, line)));
  say("cautions-heading", view.texts.cautions ?? "");
  part("cautions").hidden = view.cautions.length === 0;
  fill("cautions-list", view.cautions, () => view.cautions.map((line) => element("li", {}, line)));
}

function showDrawings({ part, fill }, view) {
  const nodes = (source) => () => (source ? [drawingNode(source)] : []);
  const { child } = view;
  fill("child", child, () => (child ? [stones(child), element("p", {}, child.words)] : []));
  if (fill("drawing", view.drawing, nodes(view.drawing))) closeUp(part("drawing"));
  fill("plot", view.plot, nodes(view.plot));
}

function showKeys({ part, fill }, view, can) {
  const of = (...roles) => view.actions.filter((action) => roles.includes(action.role));
  const keys = (actions) => actions.map((action) => actionKey(action, can.take));
  const [choices, large, plain] = [of("choice"), of("stop", "main"), of("plain")];
  fill("top", of("top"), () => keys(of("top")));
  const asked = view.asked ? [element("h2", { class: "asked" }, view.asked)] : [];
  fill("choices", [view.asked, choices], () => [...asked, ...keys(choices)]);
  const worded = choices.some((action) => action.label.includes(" "));
  part("choices").classList.toggle("worded", worded);
  part("choices").classList.toggle("sentences", choices.some((action) => action.label.length > LONG_LABEL));
  const beside = () => (plain.length ? [element("div", { class: "beside" }, ...keys(plain))] : []);
  fill("dock", [large, plain], () => [...keys(large), ...beside()]);
  part("dock").classList.toggle("many", plain.length > MANY_KEYS);
}

function showValues({ fill }, view, can) {
  const { texts, fields, columns, rows } = view;
  const words = { less: texts.less ?? "−", more: texts.more ?? "+" };
  fill("fields", fields, () => fields.map((field) => fieldBox(field, can.set, words)));
  const drop = SHOWS_FILE_KEY.includes(view.name) ? texts.drop : "";
  fill("drop", drop, () => (drop ? [fileKey(drop, can.file)] : []));
  fill("rows", [columns, rows], () => (rows.length ? [table(columns, rows, can.take, view.title)] : []));
}

/** The picture of a view, kept while it stays the same, so that the ball does not stumble. */
function pictureOfView({ part }, clock) {
  let [shown, told] = [null, "null"];

  const show = (view) => {
    const now = JSON.stringify(view.picture);
    if (now === told) return;
    told = now;
    shown?.remove();
    part("picture").hidden = view.picture === null;
    const name = view.texts.picture ?? view.title;
    shown = view.picture && showPicture(part("picture"), view.picture, view.heard, name, clock);
  };

  return { show, footfall: (fall) => shown?.footfall(fall) };
}

/** While a bout runs the key that stops it comes first for the Tab key too. */
function placeDock({ part }, first) {
  const [main, dock] = [part("main"), part("dock")];
  if (first && main.firstElementChild !== dock) main.prepend(dock);
  if (!first && main.lastElementChild !== dock) main.append(dock);
}
