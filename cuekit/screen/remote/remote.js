/** Three keys for a phone: the program says what stands on them, and takes what was pressed. */

const KEYS = ["main", "back", "stop"];
const EVERY_MS = 700;
const message = document.getElementById("message");

/** Ask, and show the words that come back. */
async function ask(address, request) {
  try {
    const reply = await fetch(address, { credentials: "same-origin", ...request });
    const told = await reply.json();
    message.textContent = reply.ok ? "" : told.message;
    if (reply.ok) show(told);
  } catch {
    message.textContent = "…";
  }
}

function show(words) {
  for (const key of KEYS) {
    const button = document.getElementById(key);
    button.hidden = !words[key];
    button.textContent = words[key] ?? "";
  }
}

function press(action) {
  const headers = { "X-Cuekit": "1", "Content-Type": "application/json" };
  return ask("/do", { method: "POST", headers, body: JSON.stringify({ action }) });
}

for (const key of KEYS) document.getElementById(key).addEventListener("click", () => press(key));
ask("/words");
setInterval(() => ask("/words"), EVERY_MS);
