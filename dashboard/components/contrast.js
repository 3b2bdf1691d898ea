// Tells the page whether the computer asks for high contrast, now and whenever that changes.

const ASKED = "(prefers-contrast: more), (forced-colors: active)";

export default function (component) {
  const { data, setStateValue } = component;
  const asked = window.matchMedia(ASKED);
  const tell = () => {
    if (asked.matches !== data.high) setStateValue("high", asked.matches);
  };
  tell();
  asked.addEventListener("change", tell);
  return () => asked.removeEventListener("change", tell);
}
