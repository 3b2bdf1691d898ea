// The stripe map in the browser: one stop for Tab, arrow keys between marks, and a press that asks for the trays.

const AROUND = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };

function columns(row) {
  let at = 0;
  return [...row.cells].map((cell) => {
    const from = at;
    at += cell.colSpan;
    return { button: cell.querySelector("button"), from, to: at };
  });
}

function laidOut(table) {
  return [...table.rows].map((row) => columns(row).filter((cell) => cell.button));
}

function placeOf(rows, button) {
  for (let row = 0; row < rows.length; row += 1) {
    const cell = rows[row].find((one) => one.button === button);
    if (cell) return { row, cell };
  }
  return null;
}

function beside(rows, { row, cell }, [down, along]) {
  if (along) {
    const here = rows[row].indexOf(cell);
    return rows[row][here + along];
  }
  for (let next = row + down; next >= 0 && next < rows.length; next += down) {
    const found = rows[next].find((one) => one.from < cell.to && one.to > cell.from);
    if (found) return found;
  }
  return undefined;
}

function endOf(rows, { row }, key) {
  return key === "Home" ? rows[row][0] : rows[row][rows[row].length - 1];
}

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const place = parentElement.querySelector(".pw-map-place");
  if (place.shown !== data.html) {
    place.innerHTML = data.html;
    place.shown = data.html;
    const first = place.querySelector("tbody button");
    if (first) first.tabIndex = 0;
  }
  const table = place.querySelector("table");
  const says = place.querySelector(".pw-map-says");
  const { hint } = data;
  const rows = laidOut(table);

  const tell = (button) => {
    says.textContent = button ? button.getAttribute("aria-label") : hint;
  };
  const focus = (button) => {
    for (const other of table.querySelectorAll("button[tabindex='0']")) other.tabIndex = -1;
    button.tabIndex = 0;
    button.focus();
  };

  table.onmouseover = (event) => tell(event.target.closest("button"));
  table.onmouseleave = () => tell(null);
  if (!table.told) table.addEventListener("focusin", (event) => tell(event.target.closest("button")));
  table.told = true;
  table.onclick = (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const { pen = "", batch = "", machine = "" } = button.dataset;
    setTriggerValue("asked", { pen, batch, machine });
  };
  table.onkeydown = (event) => {
    const at = placeOf(rows, event.target.closest("button"));
    if (!at) return;
    let next;
    if (event.key in AROUND) next = beside(rows, at, AROUND[event.key]);
    else if (event.key === "Home" || event.key === "End") next = endOf(rows, at, event.key);
    else return;
    event.preventDefault();
    if (next) focus(next.button);
  };
}
