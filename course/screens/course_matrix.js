// Draws the student x skill matrix. All words come as data and are set as text; shapes come as path data of our own.
const SVG = "http://www.w3.org/2000/svg";
const OUTBOX = "course.out.";

function shape(paths) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 100 100");
  svg.setAttribute("width", "26");
  svg.setAttribute("height", "26");
  svg.setAttribute("aria-hidden", "true");
  for (const path of paths) {
    const line = document.createElementNS(SVG, "path");
    line.setAttribute("d", path.d);
    line.setAttribute("fill", path.fill);
    line.setAttribute("stroke", path.stroke);
    line.setAttribute("stroke-width", path.width);
    svg.append(line);
  }
  return svg;
}

function make(tag, text, className) {
  const element = document.createElement(tag);
  if (text) element.textContent = text;
  if (className) element.className = className;
  return element;
}

function head(columns) {
  const row = make("tr");
  row.append(make("th", "Skill", "skill"));
  for (const column of columns) {
    const cell = make("th", column.name);
    cell.scope = "col";
    cell.append(make("small", column.unit), make("small", column.count));
    row.append(cell);
  }
  const part = make("thead");
  part.append(row);
  return part;
}

function button(cell, row, name, chosen, open) {
  const told = [cell.word, cell.signed, cell.open ? `${cell.open} open` : ""].filter(Boolean);
  const element = make("button");
  element.type = "button";
  element.title = cell.line;
  element.setAttribute("aria-label", `${name}, ${row.title}: ${told.join(", ")}. ${cell.line}`);
  element.setAttribute("aria-pressed", String(chosen[0] === cell.student && chosen[1] === row.skill));
  element.dataset.cell = `${cell.student}/${row.skill}`;
  if (cell.word === "not for this unit" || cell.word === "not started") element.className = "plain";
  const words = make("span", cell.word);
  if (cell.signed) words.append(make("span", cell.signed, "done"));
  if (cell.open) words.append(make("span", `${cell.open} open`, "done"));
  element.append(shape(cell.shape), words);
  element.onclick = () => open({ student: cell.student, skill: row.skill });
  return element;
}

function body(data, open) {
  const part = make("tbody");
  for (const phase of data.phases) {
    const title = make("tr", "", "phase");
    const cell = make("th", phase.title);
    cell.colSpan = data.columns.length + 1;
    title.append(cell);
    part.append(title);
    for (const row of phase.rows) {
      const line = make("tr");
      const skill = make("th", row.required ? row.title : `${row.title} (optional)`, "skill");
      skill.scope = "row";
      line.append(skill);
      row.cells.forEach((one, place) => {
        const box = make("td");
        box.append(button(one, row, data.columns[place].name, data.chosen, open));
        line.append(box);
      });
      part.append(line);
    }
  }
  return part;
}

// Taps that still wait on this device: the pad keeps one entry a tap under this prefix (pad_outbox.js).
function waiting() {
  return Object.keys(localStorage).filter((key) => key.startsWith(OUTBOX)).length;
}

export default function ({ parentElement, data, setTriggerValue, setStateValue }) {
  const old = parentElement.querySelector(".matrix");
  const box = make("div", "", "matrix");
  const table = make("table");
  table.append(head(data.columns), body(data, (cell) => setTriggerValue("cell", cell)));
  box.append(table);
  if (old) {
    const place = [old.scrollLeft, old.scrollTop];
    old.replaceWith(box);
    [box.scrollLeft, box.scrollTop] = place;
  } else {
    parentElement.append(box);
  }
  setStateValue("waiting", waiting());
}
