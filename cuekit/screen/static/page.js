/** The start: the program's views go to the page, what is done on the page goes to the program. */

import { identity, open } from "./actions.js";
import { makeClock } from "./clock.js";
import { listenToDrops } from "./drop.js";
import { listen } from "./feed.js";
import { listenToKeys } from "./keys.js";
import { whenLeftAlone } from "./rest.js";
import { sendAction, sendRecording } from "./send.js";
import { makePage, takesFiles } from "./view.js";

/** Join the parts of the page; the program answers with the first view. */
function start() {
  const clock = makeClock();
  const underWay = new Set();
  let view = null;
  let settings = Promise.resolve();

  /** Take an action; the same one is not taken again before the program has answered. */
  const take = async (action) => {
    if (action.opens) return open(action);
    const one = identity(action);
    if (underWay.has(one)) return;
    underWay.add(one);
    answered(await sendAction(action.name, action.values));
    underWay.delete(one);
  };

  /** Set values one after the other, so that the last one wins. */
  const set = (name, value) => {
    settings = settings.then(async () => answered(await sendAction("set", { [name]: value })));
  };

  const file = async (recording) => {
    page.message(view.texts.dropping ?? "");
    answered(await sendRecording(recording));
  };

  /** Show a refusal; a program that does not answer is away. */
  const answered = (refusal) => {
    page.away(refusal === null ? view.texts.away : "");
    page.message(refusal || view.message);
  };

  const page = makePage({ take, set, file }, clock);
  listen({
    view: (told) => {
      view = told;
      page.show(view);
    },
    clock: clock.tick,
    footfall: page.footfall,
    away: (gone) => page.away(gone ? view?.texts.away : ""),
  });
  listenToKeys(() => view, take);
  listenToDrops(() => view !== null && takesFiles(view), file);
  document.addEventListener("click", () => {
    if (view?.name === "blank" && view.actions.length) take(view.actions[0]);
  });
  const busy = () => !view || view.name === "bout" || view.name === "blank";
  whenLeftAlone(busy, () => sendAction("blank"));
}

start();
