// Looks whether the session is still open, and reloads when it has ended: nothing of the records stays on the screen.

const EVERY = 20000;

function look() {
  fetch("/signed-in", { cache: "no-store" }).then(
    (answer) => answer.status === 401 && window.location.reload(),
    () => undefined, // the computer cannot be reached just now
  );
}

export default function watch() {
  if (window.penwiseDoor) return;
  window.penwiseDoor = window.setInterval(look, EVERY);
  document.addEventListener("visibilitychange", () => document.hidden || look());
}
