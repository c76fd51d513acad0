/**
 * The line under the heading. While a bout runs it says what happens now; a screen reader is told each
 * sentence once, and when it goes and when it is over, but no beat.
 */

/**
 * The line.
 * @param {{say: function(string, string)}} parts of the page
 * @param {{now: function(): number|null}} clock of the bout
 * @returns {{show: function(Object), footfall: function()}}
 */
export function makeLead({ say }, clock) {
  let view = null;
  let falls = 0;
  let frame = 0;
  let told = "";

  /** Said to those who do not see the page, when it is another than before. */
  const tell = (words) => {
    if (words !== told) say("spoken", words);
    told = words;
  };

  const move = () => {
    const { words, spoken } = lineOf(view, clock.now(), falls);
    say("lead", words);
    tell(spoken);
    frame = requestAnimationFrame(move);
  };

  const show = (next) => {
    cancelAnimationFrame(frame);
    view = next;
    falls = view.heard.length;
    if (view.going) return move();
    say("lead", view.lead);
    tell(view.lead);
  };

  return { show, footfall: () => (falls += 1) };
}

/** What is shown and what is spoken at a time of a bout, s; null before its clock is known. */
function lineOf(view, t, falls) {
  const { lead, going, gone, picture, texts } = view;
  if (!picture.cued) {
    return { words: falls ? going.replace("[footfalls]", falls) : lead, spoken: lead };
  }
  if (t === null || t < picture.marks[0].t) return { words: lead, spoken: lead };
  if (t >= picture.end) return { words: gone, spoken: gone };
  const beat = picture.marks.findLast((mark) => mark.t <= t).beat + 1;
  const beats = picture.marks.at(-1).beat + 1;
  return { words: going.replace("[beat]", beat).replace("[beats]", beats), spoken: texts.go };
}
