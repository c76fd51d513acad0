/** Where the keyboard is, kept when the page is drawn anew. */

/**
 * Remember the place and what is being typed there.
 * @returns {{back: function(boolean)}} go back to it; true where another view has come, which is read from
 *   its top
 */
export function keepPlace() {
  const at = document.activeElement;
  const action = at?.dataset?.action;
  const id = at?.id;
  const typed = at instanceof HTMLInputElement && at.value !== at.defaultValue ? at.value : null;
  const same = () =>
    action
      ? [...document.querySelectorAll("[data-action]")].find((key) => key.dataset.action === action)
      : document.getElementById(id);

  return {
    back: (another) => {
      if (another) {
        window.scrollTo(0, 0);
        first().focus({ preventScroll: true });
        return;
      }
      if (at === document.body || at?.isConnected) return;
      const again = same();
      if (
        typed !== null &&
        again instanceof HTMLInputElement &&
        again.type === at.type &&
        again.type === "text"
      )
        again.value = typed;
      again?.focus({ preventScroll: true });
    },
  };
}

/** The key that stops, while there is one; the field, where only an answer is asked for; else the heading. */
function first() {
  const asked = document.querySelector(".key.main, .key.choice")
    ? null
    : document.querySelector(".fields input[type=text]");
  return document.querySelector(".key.stop") ?? asked ?? document.getElementById("title");
}
