// The tally at the bench: a tap goes to the store first, and only what the store has answered is counted here.

const PATIENCE = 6000; // ms without an answer after which a tap counts as not arrived
const RETRY = 4000; // ms after which a tap that could not be kept is sent again
const PHONE = "penwise-phone";
let spare = "";

function token() {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function phoneName() {
  try {
    const kept = localStorage.getItem(PHONE) || token();
    localStorage.setItem(PHONE, kept);
    return kept;
  } catch {
    spare = spare || token();
    return spare;
  }
}

function connected() {
  const app = document.querySelector('[data-testid="stApp"]');
  const line = app ? app.getAttribute("data-test-connection-state") : "CONNECTED";
  return navigator.onLine && line === "CONNECTED";
}

function element(tag, kind, text = "") {
  const made = document.createElement(tag);
  made.className = kind;
  made.textContent = text;
  return made;
}

function button(board, kind, outcome, eggs) {
  const made = element("button", `pwb-button ${kind}`);
  made.type = "button";
  made.dataset.outcome = outcome;
  made.addEventListener("click", () => board.tap(outcome, eggs()));
  return made;
}

function build(board, place, data) {
  place.replaceChildren();
  board.tiles = data.tiles.map((tile) => {
    const row = element("div", `pwb-tile pwb-${tile.key}`);
    const main = button(board, "pwb-one", tile.key, () => 1);
    main.innerHTML = tile.picture;
    const name = element("span", "pwb-name", tile.name);
    const count = element("span", "pwb-count");
    main.append(name, count);
    row.append(main);
    const more = (tile.more || []).map((eggs) => {
      const extra = button(board, "pwb-more", tile.key, () => eggs);
      extra.textContent = `+${eggs}`;
      extra.setAttribute("aria-label", `${tile.name}: +${eggs}`);
      row.append(extra);
      return { extra, eggs };
    });
    place.append(row);
    return { tile, main, count, more };
  });
  board.rests = data.rests.map(({ key, name }) => {
    const rest = button(board, `pwb-rest pwb-rest-${key}`, key, () => board.data.left);
    place.append(rest);
    return { rest, name };
  });
  const foot = element("div", "pwb-foot");
  board.total = element("p", "pwb-total");
  board.total.setAttribute("aria-live", "polite");
  board.undo = button(board, "pwb-undo", "undo", () => 1);
  foot.append(board.total, board.undo);
  place.append(foot);
}

function draw(board) {
  const { data, pending } = board;
  const late = pending.length > 0 && Date.now() - pending[0].since > PATIENCE;
  const off = !connected() || late || Boolean(data.trouble);
  const waiting = (key) => pending.some((one) => one.outcome === key);
  board.place.classList.toggle("pwb-off", off);
  const { color, backgroundColor } = getComputedStyle(board.total.parentElement);
  Object.assign(board.sign.style, { background: color, color: backgroundColor });
  board.sign.textContent = off ? (data.trouble || (late && connected() ? data.words.late : data.words.off)) : "";
  const left = data.left - pending.reduce((sum, one) => sum + (one.outcome === "undo" ? 0 : one.eggs), 0);
  for (const { tile, main, count, more } of board.tiles) {
    count.textContent = data.counts[tile.key];
    main.disabled = off || left < 1;
    main.setAttribute("aria-label", `${tile.name}: ${data.counts[tile.key]}`);
    main.setAttribute("aria-busy", String(waiting(tile.key)));
    for (const { extra, eggs } of more) extra.disabled = off || left < eggs;
  }
  for (const { rest, name } of board.rests) {
    rest.textContent = data.left > 0 ? `${name} (${data.left})` : name;
    rest.disabled = off || data.left < 1 || pending.length > 0;
  }
  board.total.textContent = data.words.total;
  board.undo.textContent = data.words.undo;
  board.undo.disabled = off || !data.can_undo || waiting("undo");
}

function send(board) {
  const taps = board.pending.map(({ name, outcome, eggs }) => ({ name, outcome, eggs }));
  board.asked = Date.now();
  board.setState("taps", { phone: board.phone, round: token(), taps });
}

function start(place, phone) {
  const board = { place, phone, pending: [], data: null };
  // Streamlit pales what it cannot renew, so the sign stands outside of the page.
  board.sign = element("div", "pwb-sign");
  board.sign.setAttribute("role", "alert");
  document.body.append(board.sign);
  board.tap = (outcome, eggs) => {
    if (eggs < 1 || !connected()) return;
    board.pending.push({ name: token(), outcome, eggs, since: Date.now() });
    draw(board);
    send(board);
  };
  board.watch = () => {
    if (!place.isConnected) {
      stop(board);
      return;
    }
    const now = connected();
    if (now && !board.was && board.pending.length) {
      for (const one of board.pending) one.since = Date.now();
      send(board);
    }
    else if (now && board.data.trouble && Date.now() - board.asked > RETRY) send(board);
    board.was = now;
    draw(board);
  };
  board.was = true;
  board.timer = setInterval(board.watch, 1000);
  window.addEventListener("online", board.watch);
  window.addEventListener("offline", board.watch);
  board.eye = new MutationObserver(board.watch);
  const app = document.querySelector('[data-testid="stApp"]');
  if (app) board.eye.observe(app, { attributes: true, attributeFilter: ["data-test-connection-state"] });
  return board;
}

function stop(board) {
  board.sign.remove();
  clearInterval(board.timer);
  window.removeEventListener("online", board.watch);
  window.removeEventListener("offline", board.watch);
  board.eye.disconnect();
}

export default function (component) {
  const { data, parentElement, setStateValue } = component;
  const place = parentElement.querySelector(".pwb-board");
  if (place.board && place.board.data.tray !== data.tray) {
    stop(place.board);
    place.board = null;
  }
  const fresh = !place.board;
  if (fresh) place.board = start(place, phoneName());
  const { board } = place;
  board.setState = setStateValue;
  board.data = data;
  board.pending = board.pending.filter((one) => !data.kept.includes(one.name));
  if (fresh) build(board, place, data);
  draw(board);
  if (data.phone !== board.phone) send(board);
  return () => {
    if (!place.isConnected) {
      stop(board);
      place.board = null;
    }
  };
}
