/** What the page sends to the program: an action taken, or a recording. */

const HEADER = { "X-Cuekit": "1" };
/** The action sent last: the next one waits for its answer, so that they arrive in the order of the keys. */
let before = Promise.resolve();

/**
 * Take an action.
 * @param {string} action its name
 * @param {Object<string, string>} [values] what goes with it
 * @returns {Promise<string|null>} "" when it was taken, the program's refusal, or null when it does not
 *   answer
 */
export function sendAction(action, values = {}) {
  const headers = { ...HEADER, "Content-Type": "application/json" };
  before = before.then(() => answer("/do", { headers, body: JSON.stringify({ action, values }) }));
  return before;
}

/**
 * Hand over a recording.
 * @param {Blob} recording
 * @returns {Promise<string|null>} as `sendAction`
 */
export function sendRecording(recording) {
  return answer("/recording", { headers: HEADER, body: recording });
}

async function answer(address, request) {
  try {
    const reply = await fetch(address, { method: "POST", credentials: "same-origin", ...request });
    return reply.ok ? "" : await refusal(reply);
  } catch {
    return null;
  }
}

async function refusal(reply) {
  const told = await reply.json().catch(() => ({}));
  return typeof told.message === "string" ? told.message : null;
}
