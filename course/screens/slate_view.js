// Drawing the copying grid: rows and columns as on the paper, made once and then only repainted, so that focus stays
// and nothing moves under a finger. Text of people goes in by textContent alone.

const SIGNS = { tick: "M4 13l5.5 6L20 5", cross: "M5 5l14 14M19 5L5 19", dash: "M4 12h16", ring: "M12 4a8 8 0 1 0 .01 0" };
const CLOCK_FIELD = { type: "text", inputmode: "numeric", maxlength: "5", autocomplete: "off", placeholder: "14:30", required: "" };
const MARKS = { // mark: sign, word
  done: ["tick", "done"], prompted: ["P", "prompted"], not_seen: ["dash", "not seen"], left_out: ["ring", "left out"], error: ["cross", "error"],
};
const LEGEND = [
  ["Enter", "done"], ["a b c", "error by its letter"], ["x", "another error"], ["p", "prompted"], ["-", "not seen"], ["?", "unreadable"],
  ["o", "left out"], ["f", "put right unasked"], ["0-9", "value, then Enter"], ["w", "whole attempt clean"], ["Tab n", "next empty box"],
  ["arrows", "move"], ["Backspace", "clear"], ["u", "undo"], ["s", "stopped"], ["v", "void"], ["Ctrl+Enter", "check"], ["Esc Tab", "leave the grid"],
];

function el(tag, className, text, attributes = {}) {
  const made = document.createElement(tag);
  if (className) made.className = className;
  if (text !== undefined && text !== null) made.textContent = text;
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
}

function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

function sign(name) {
  if (!SIGNS[name]) return el("span", "letter", name, { "aria-hidden": "true" });
  const drawn = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  drawn.setAttribute("viewBox", "0 0 24 24");
  drawn.setAttribute("aria-hidden", "true");
  const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
  path.setAttribute("d", SIGNS[name]);
  drawn.append(path);
  return drawn;
}

function button(act, words, { className = "", signs = [], small = "", more = {} } = {}) {
  const made = el("button", className, null, { type: "button", "data-act": act, ...more });
  for (const name of signs) made.append(sign(name));
  const text = el("span", "words");
  text.append(el("span", "word", words));
  if (small) text.append(el("span", "small", small));
  made.append(text);
  return made;
}

function count(number, noun, many) {
  return `${number} ${number === 1 ? noun : many || noun + "s"}`;
}

function lettersOf(row, line) {
  return line.errors.map((id) => (id === "x" ? "x" : row.errors.find((error) => error.id === id)?.letter ?? "?")).sort().join(" ");
}

/** What stands in a box, in words: for the label of the box and for what is said after a key. */
function boxWords(row, line, value, filled, here) {
  if (!here) return "not for this unit";
  const told = [];
  if (line?.unreadable) told.push("unreadable");
  else if (line?.mark === "error") told.push(`error ${lettersOf(row, line)}`, ...(line.prompted ? ["prompted too"] : []), ...(line.fixed_self ? ["put right unasked"] : []));
  else if (line) told.push(MARKS[line.mark][1]);
  else if (filled) told.push("done by whole attempt clean");
  if (value !== undefined && row.limit) told.push(`${value} ${row.limit.unit}`.trim());
  return told.join(", ") || "empty";
}

function limitWords(limit) {
  const bounds = [limit.at_least && `at least ${limit.at_least}`, limit.at_most && `at most ${limit.at_most}`].filter(Boolean).join(", ");
  return `${limit.word}: ${bounds} ${limit.unit}`.trim();
}

/** A time on a clock of 24 hours, whatever clock the browser would show; null where it is none. */
function clockTime(text) {
  const found = /^([01]?\d|2[0-3])[:.]?([0-5]\d)$/.exec(text.trim());
  return found && `${found[1].padStart(2, "0")}:${found[2]}`;
}

function columnWords(column) {
  return column.tries > 1 ? `${column.name}, try ${column.attempt_try}` : column.name;
}

function drawSlate(data) {
  const parts = { cells: [], heads: [] };
  const root = el("div", "slate", null, { "data-slate": data.slate });
  const boxes = el("div", "boxes"); // the column's name stays in view over its boxes, and no further
  boxes.append(drawTurn(parts), drawTable(data, parts));
  root.append(drawTop(data, parts), boxes, drawFoot(parts));
  parts.answer = el("section", "answer", null, { "aria-label": "Before it is saved", hidden: "", tabindex: "-1" });
  root.append(parts.answer);
  parts.tray = el("section", "tray", null, { "aria-label": "Choices", hidden: "" });
  root.append(parts.tray);
  parts.root = root;
  return parts;
}

function drawTop(data, parts) {
  const top = el("header", "top");
  const title = el("h2", "title", data.title);
  title.append(" ", el("span", "code", data.code));
  top.append(title, el("p", "about", data.about));
  if (data.shut) top.append(el("p", "shut", data.shut, { role: "alert" }));
  if (data.older_form) top.append(el("p", "older", "The rubric changed since this sheet was printed; it is copied by its printed form."));
  const fields = el("div", "fields");
  const who = el("label", "field who", "Who wrote it?");
  parts.observer = el("select", "", null, { "data-field": "observer" });
  parts.observer.append(el("option", "", "choose", { value: "" }));
  for (const person of data.observers) parts.observer.append(el("option", "", person.name, { value: person.id }));
  who.append(parts.observer);
  fields.append(who);
  for (const [side, word] of [["start", "Seen from"], ["end", "to"]]) {
    const field = el("label", "field", word);
    parts[side] = el("input", "clock", null, { "data-field": side, ...CLOCK_FIELD });
    parts[`${side}_second`] = el("select", "twice", null, { "data-field": `${side}_second`, "aria-label": `${word}: this hour came twice`, hidden: "" });
    for (const [value, text] of [["", "which of the two?"], ["false", "the first time"], ["true", "the second time"]])
      parts[`${side}_second`].append(el("option", "", text, { value }));
    field.append(parts[side], parts[`${side}_second`]);
    fields.append(field);
  }
  top.append(fields);
  return top;
}

/** On a phone one column is shown at a time. */
function drawTurn(parts) {
  const turn = el("nav", "turn", null, { "aria-label": "Columns" });
  parts.turned = el("p", "turned", "", { "aria-live": "polite" });
  turn.append(button("turn-back", "Before", { more: { "aria-label": "Column before" } }), parts.turned, button("turn-on", "Next", { more: { "aria-label": "Next column" } }));
  return turn;
}

function drawTable(data, parts) {
  const frame = el("div", "frame");
  const table = el("table", "grid", null, { role: "grid", "aria-label": `Sheet ${data.code}, ${data.title}`, "aria-rowcount": data.rows.length + 1, "aria-colcount": data.columns.length + 1 });
  const head = el("tr", "", null, { role: "row" });
  head.append(el("th", "corner", "Step", { role: "columnheader", scope: "col" }));
  data.columns.forEach((column, place) => {
    const cell = el("th", "head", null, { role: "columnheader", scope: "col", "data-col": place });
    cell.append(el("span", "name", column.name));
    cell.append(el("span", "small", [column.initials, column.unit].filter(Boolean).join(" · ")));
    cell.append(el("span", "small", `attempt ${column.number}` + (column.tries > 1 ? ` · try ${column.attempt_try}` : "")));
    const state = el("span", "state", "");
    cell.append(state);
    parts.heads.push({ cell, state });
    head.append(cell);
  });
  const thead = el("thead", "", null, { role: "rowgroup" });
  thead.append(head);
  const body = el("tbody", "", null, { role: "rowgroup" });
  data.rows.forEach((row, at) => body.append(drawRow(data, row, at, parts)));
  table.append(thead, body);
  frame.append(table);
  parts.table = table;
  parts.frame = frame;
  return frame;
}

function drawRow(data, row, at, parts) {
  const line = el("tr", row.own_box ? "own" : "", null, { role: "row", "data-row": at });
  const head = el("th", "step", null, { role: "rowheader", scope: "row" });
  const inside = el("div", "inside");
  inside.append(el("span", "number", String(row.number)));
  const say = el("span", "say");
  say.append(el("span", "do", row.do));
  if (row.limit) say.append(el("span", "limit small", limitWords(row.limit)));
  const letters = el("span", "letters small");
  for (const error of row.errors) {
    const one = el("span", "one");
    one.append(el("b", "", error.letter), ` ${error.label}`);
    if (error.critical) one.append(" ", el("b", "critical", "critical"));
    letters.append(one);
  }
  if (row.left_out_critical) { const one = el("span", "one"); one.append(el("b", "", "o"), " left out ", el("b", "critical", "critical")); letters.append(one); }
  say.append(letters);
  inside.append(say);
  head.append(inside);
  line.append(head);
  parts.cells.push(data.columns.map((column, place) => {
    const here = !column.not_here.includes(row.step);
    const cell = el("td", here ? "" : "grey", null, { role: "gridcell", tabindex: "-1", "data-row": at, "data-col": place });
    line.append(cell);
    return { cell, shown: null };
  }));
  return line;
}

function drawFoot(parts) {
  const foot = el("footer", "foot");
  parts.unsaved = el("p", "unsaved", "", { role: "status" });
  parts.undo = button("undo", "Undo", { more: { "aria-label": "Undo the last mark" } });
  parts.check = button("check", "Check", { className: "main" });
  const acts = el("div", "acts");
  acts.append(parts.undo, button("next-empty", "Next empty"), parts.check);
  parts.said = el("p", "said", "", { "aria-live": "polite" });
  foot.append(parts.unsaved, acts, parts.said, drawLegend());
  return foot;
}

function drawLegend() {
  const legend = el("dl", "legend", null, { "aria-label": "Keys" });
  for (const [key, word] of LEGEND) {
    const pair = el("div", "pair");
    pair.append(el("dt", "", key), el("dd", "", word));
    legend.append(pair);
  }
  return legend;
}

/** Repaint one box where what stands in it changed. */
function paintCell(part, row, column, { line, value, filled, here, typing }) {
  const words = typing !== undefined ? `${typing}` : boxWords(row, line, value, filled, here);
  const shown = JSON.stringify([words, typing !== undefined]);
  if (part.shown === shown) return;
  part.shown = shown;
  const { cell } = part;
  cell.setAttribute("aria-label", `${columnWords(column)}, step ${row.number} ${row.do} ${words}`);
  cell.classList.toggle("typing", typing !== undefined);
  const marks = [];
  if (typing !== undefined) marks.push(el("span", "value", `${typing}|`));
  else if (line?.unreadable) marks.push(sign("?"));
  else if (line) {
    marks.push(sign(MARKS[line.mark][0]));
    if (line.mark === "error") marks.push(el("span", "letter", lettersOf(row, line) + (line.prompted ? " P" : "") + (line.fixed_self ? " F" : "")));
  } else if (filled) marks.push(sign("tick"), el("span", "small", "whole"));
  if (typing === undefined && value !== undefined) marks.push(el("span", "value", `${value} ${row.limit?.unit ?? ""}`.trim()));
  cell.classList.toggle("filled", Boolean(filled) && !line);
  cell.classList.toggle("is-critical", isCritical(row, line, value));
  cell.replaceChildren(...marks);
}

/** A critical box carries a bold bar, not only a colour. */
function isCritical(row, line, value) {
  if (line?.mark === "left_out") return row.left_out_critical;
  return Boolean(line?.mark === "error" && row.errors.some((error) => error.critical && line.errors.includes(error.id)));
}

// --- the tray: the choices for one box, for fingers, and what has to be typed in words ---

function drawTray(asked, grid) {
  const draw = { stopped: drawStopped, void: drawVoid, other: drawOther }[asked.kind] || drawBox;
  const unsaved = grid.draft.unsaved; // the tray lies over the foot, and this stays in view
  return [...draw(asked, grid), el("p", "still", unsaved ? `Not saved yet: ${count(unsaved, "mark")}.` : "Nothing to save yet.")];
}

function trayHead(title) {
  const head = el("div", "tray-head");
  head.append(el("h3", "", title), button("shut", "Close", { className: "shut-tray" }));
  return head;
}

function drawBox(asked, grid) {
  const { row, column, now, here } = grid.at();
  const line = now.marks[row.step];
  const nodes = [trayHead(`${columnWords(column)} · ${row.number}. ${row.do}`)];
  if (!here) return [...nodes, el("p", "", "This step is not for this unit.")];
  const choices = el("div", "choices");
  for (const [mark, unreadable, key] of [["done", false, "Enter"], ["prompted", false, "p"], ["not_seen", false, "-"], ["not_seen", true, "?"], ["left_out", false, "o"]]) {
    const [drawn, word] = unreadable ? ["?", "unreadable"] : MARKS[mark];
    const pressed = line?.mark === mark && Boolean(line.unreadable) === unreadable;
    choices.append(button("mark", word, { className: mark, signs: [drawn], small: `key ${key}`, more: { "data-mark": mark, "data-unreadable": String(unreadable), "aria-pressed": String(pressed) } }));
  }
  for (const error of [...row.errors, { id: "x", letter: "x", label: "another error, in words", critical: false }]) {
    const pressed = line?.mark === "error" && line.errors.includes(error.id);
    choices.append(button("error", error.label, { className: "error" + (error.critical ? " can-be-critical" : ""), signs: [error.letter], small: error.critical ? "critical" : "", more: { "data-error": error.id, "aria-pressed": String(pressed) } }));
  }
  if (line?.mark === "error") choices.append(button("fixed", "put right unasked", { signs: ["F"], more: { "aria-pressed": String(Boolean(line.fixed_self)) } }));
  nodes.push(choices);
  if (row.limit) {
    const field = el("label", "field", `${limitWords(row.limit)}`);
    const input = el("input", "", null, { inputmode: "decimal", "data-field": "value", autocomplete: "off" });
    input.value = now.values[row.step] ?? "";
    const keep = el("div", "keep");
    keep.append(input, button("value", "Keep the value"));
    field.append(keep);
    nodes.push(field);
  }
  const whole = el("div", "whole");
  whole.append(
    button("clean", "Whole attempt clean", { more: { "aria-pressed": String(now.whole_clean) } }), button("ask-stopped", "Stopped"), button("ask-void", "Void"),
    button("clear", "Clear the box"), button("next-empty", "Next empty box"));
  nodes.push(whole);
  if (asked.problem) nodes.push(el("p", "problem", asked.problem, { role: "alert" }));
  return nodes;
}

function drawStopped(asked, grid) {
  const { column } = grid.at();
  const whole = el("div", "whole");
  whole.append(button("stopped", "By the student", { small: "key s", more: { "data-by": "student" } }), button("stopped", "By the instructor", { small: "key i", more: { "data-by": "instructor" } }), button("completed", "It went on to its end"));
  return [trayHead(`${columnWords(column)}: who stopped it? Calling a stop is never an error.`), whole];
}

function drawVoid(asked, grid) {
  const { column, now } = grid.at();
  const reason = el("label", "field", "Why is it void? It was not the student's doing.");
  const input = el("input", "", null, { "data-field": "reason", maxlength: "500", autocomplete: "off" });
  input.value = now.reason || "";
  reason.append(input);
  const second = el("label", "field", "Second instructor, needed where a critical error is marked");
  const select = el("select", "", null, { "data-field": "second" });
  select.append(el("option", "", "nobody", { value: "" }));
  for (const person of grid.data.seconds.filter((one) => one.id !== grid.draft.observer)) select.append(el("option", "", person.name, { value: person.id }));
  select.value = now.second || "";
  second.append(select);
  const whole = el("div", "whole");
  whole.append(button("void", "Void", { className: "main" }), button("completed", "It went on to its end"));
  return [trayHead(`${columnWords(column)}: void`), reason, second, whole, ...(asked.problem ? [el("p", "problem", asked.problem, { role: "alert" })] : [])];
}

function drawOther(asked) {
  const field = el("label", "field", "What went wrong, in a few words?");
  const input = el("input", "", null, { "data-field": "note", maxlength: "500", autocomplete: "off" });
  input.value = asked.note || "";
  field.append(input);
  const whole = el("div", "whole");
  whole.append(button("other", "Keep", { className: "main" }));
  return [trayHead("Another error"), field, whole, ...(asked.problem ? [el("p", "problem", asked.problem, { role: "alert" })] : [])];
}

// --- what the server says before it is saved, and after ---

function drawAnswer(said, data, observer) {
  if (said.saved) return drawSaved(said, data);
  if (said.trouble) return [el("h3", "", said.trouble), el("p", "", "Nothing typed is lost: it stays on this device until it is saved."), button("again", "Try again", { className: "main" })];
  const check = said.check;
  const nodes = [el("h3", "", check.sentence)];
  if (said.news) nodes.push(el("p", "problem", "Something changed since this was checked. Read it once more.", { role: "alert" }));
  nodes.push(...listOf("", check.faults, "fault"));
  nodes.push(...listOf("Know this first", check.consequences.filter((one) => one.serious).map((one) => one.sentence), "serious"));
  if (check.gaps.length) {
    nodes.push(el("h4", "", "Look at these boxes once more"));
    const list = el("ul", "gaps");
    for (const gap of check.gaps) {
      const item = el("li");
      item.append(el("span", "", gap.sentence), button("go", "Go there", { more: { "data-student": gap.student, "data-try": gap.attempt_try, "data-step": gap.step } }));
      list.append(item);
    }
    nodes.push(list);
  }
  for (const one of check.entered) nodes.push(drawBeside(one));
  nodes.push(...listOf("Also", check.consequences.filter((one) => !one.serious).map((one) => one.sentence), "also"));
  nodes.push(...listOf("What each comes to", check.outcomes.map((one) => one.sentence), "outcomes"));
  const acts = el("div", "acts");
  if (check.may_save) acts.append(button("save", `Save ${count(check.attempts, "attempt")}`, { className: "main", small: `seen by ${data.observers.find((one) => one.id === observer)?.name ?? ""}` }));
  if (!check.may_save && !check.faults.length && check.entered.length) acts.append(button("forget", "Put this copy away"));
  acts.append(button("back", "Back to the grid"));
  nodes.push(acts);
  return nodes;
}

function listOf(title, sentences, className) {
  if (!sentences.length) return [];
  const list = el("ul", className);
  for (const sentence of sentences) list.append(el("li", "", sentence));
  return title ? [el("h4", "", title), list] : [list];
}

function drawBeside(one) {
  const box = el("div", "beside", null, { "data-student": one.student, "data-try": one.attempt_try });
  box.append(el("p", "told", one.sentence));
  const table = el("table");
  const head = el("tr");
  for (const word of ["", "in the ledger", "typed now"]) head.append(el("th", "", word, { scope: "col" }));
  table.append(head);
  for (const row of one.rows) {
    const line = el("tr", row.same ? "" : "differs");
    line.append(el("th", "", row.label, { scope: "row" }), el("td", "", row.ledger), el("td", "", row.typed + (row.same ? "" : "  (differs)")));
    table.append(line);
  }
  box.append(table);
  if (one.identical) return box;
  const acts = el("div", "acts");
  acts.append(button("leave", "Leave what is in the ledger"));
  if (one.may_amend) {
    const field = el("label", "field", "Reason for amending it");
    field.append(el("input", "", null, { "data-field": "why", maxlength: "500", autocomplete: "off" }));
    box.append(field);
    acts.append(button("amend", "Amend it to what I typed"));
  }
  box.append(acts);
  return box;
}

function drawSaved(said, data) {
  const acts = el("div", "acts");
  for (const one of data.next.slice(0, 5)) acts.append(button("open", `Next: ${one.title}`, { className: acts.children.length ? "" : "main", small: one.code, more: { "data-slate": one.slate, "data-session": one.session } }));
  acts.append(button("open", data.next.length ? "All sheets" : "Done", { more: { "data-slate": "", "data-session": "" } }));
  return [el("h3", "", said.saved), acts];
}
