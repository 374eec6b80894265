// Draws the student x skill matrix. All words come as data and are set as text.

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

export default function ({ parentElement, data, setTriggerValue }) {
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
    box.querySelector('[aria-pressed="true"]')?.scrollIntoView({ block: "center" });
  }
}
