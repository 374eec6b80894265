// Drawing the pad. Rows are made once and then only repainted, so that focus stays and nothing moves under a finger;
// what has to be asked opens in a tray at the foot of the screen. Text of people goes in by textContent alone.

const STROKES = [ // mark, word, small word, shape, key
  ["done", "Done", "or no occasion", "tick", "Enter"], ["prompted", "Prompted", "", "P", "p"],
  ["not_seen", "Not seen", "", "dash", "-"], ["left_out", "Left out", "", "ring", "o"], ["error", "Error", "", "cross", "a b c"],
];
const SHAPES = { tick: "M4 13l5.5 6L20 5", cross: "M5 5l14 14M19 5L5 19", dash: "M4 12h16", ring: "M12 4a8 8 0 1 0 .01 0" };

function el(tag, className, text, attributes = {}) {
  const made = document.createElement(tag);
  if (className) made.className = className;
  if (text !== undefined && text !== null) made.textContent = text;
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
}

function shape(name) {
  if (name === "P") return el("span", "letter", "P", { "aria-hidden": "true" });
  const drawn = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  drawn.setAttribute("viewBox", "0 0 24 24");
  drawn.setAttribute("aria-hidden", "true");
  const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
  path.setAttribute("d", SHAPES[name]);
  drawn.append(path);
  return drawn;
}

function button(act, words, { className = "", step = "", more = {}, shapes = [], small = "", label = "" } = {}) {
  const made = el("button", className, null, { type: "button", "data-act": act, ...(step ? { "data-step": step } : {}), ...more });
  for (const name of shapes) made.append(shape(name));
  const text = el("span", "words", null);
  text.append(el("span", "word", words));
  if (small) text.append(el("span", "small", small));
  made.append(text);
  if (label) made.setAttribute("aria-label", label);
  return made;
}

function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

function count(number, noun, many) {
  return `${number} ${number === 1 ? noun : many || noun + "s"}`;
}

/** The whole pad of one attempt as nodes; `parts` are those that are repainted. */
function drawPad(data, line) {
  const parts = { rows: new Map() };
  const root = el("div", "pad", null, { "data-attempt": data.attempt });
  root.append(drawHead(data, parts, line), drawAbout(data));
  const list = el("ol", "steps", null, { "aria-label": "Steps, in order" });
  for (const step of data.steps) list.append(drawStep(step, parts));
  root.append(list, drawEnd(data, parts), drawLegend(parts));
  const foot = el("div", "foot"); // takes no room, so that opening the tray moves nothing
  parts.tray = el("section", "tray", null, { "aria-label": "Asked", hidden: "" });
  foot.append(parts.tray);
  root.append(foot);
  parts.root = root;
  return parts;
}

function drawHead(data, parts, line) {
  const head = el("header", "head");
  head.append(...drawTurns(line, parts));
  const who = el("h1", "who", null);
  who.append(el("span", "name", data.student.name));
  if (data.student.tag) who.append(" ", el("span", "tag", data.student.tag));
  const about = el("p", "what");
  parts.what = el("span", "");
  about.append(el("b", "", data.skill.title), parts.what);
  parts.notes = el("p", "notes", "", { role: "status" });
  const state = el("div", "state");
  parts.status = el("p", "status", "", { role: "status" });
  parts.see = button("see", "See", { className: "see", label: "See what waits and why" });
  state.append(parts.status, parts.see);
  parts.undo = button("undo", "Nothing to undo", { className: "undo" });
  parts.critical = el("p", "so-far", "", { "aria-live": "polite" });
  parts.said = el("p", "said", "", { role: "status" });
  head.append(who, state, about, parts.notes, parts.undo, parts.critical, parts.said);
  return head;
}

function drawAbout(data) {
  const about = el("div", "about");
  about.append(el("p", "purpose", data.skill.purpose));
  const caution = el("p", "caution");
  caution.append(el("b", "", "Caution: "), data.skill.caution);
  about.append(caution);
  if (!data.within) about.append(button("ask", "Also saw …", { className: "also", more: { "data-ask": "also" }, small: "another skill in this act" }));
  return about;
}

function drawStep(step, parts) {
  const item = el("li", "step" + (step.can_be_critical ? " can-be-critical" : "") + (step.applies ? "" : " not-for-unit"));
  const row = el("div", "row", null, { role: "group", tabindex: "-1", "data-row": step.id });
  const number = el("div", "number", String(step.number), { "aria-hidden": "true" });
  const say = el("div", "say");
  say.append(el("p", "do", step.do));
  const read = el("p", "read small", "", { hidden: "" });
  say.append(read);
  const facts = el("p", "facts");
  const hit = el("span", "hit", "");
  if (step.can_be_critical) facts.append(el("span", "critical", "can be critical"));
  const extra = el("span", "extra", step.applies ? "" : "not for this unit");
  facts.append(hit, extra);
  say.append(facts);
  row.append(number, say);
  const part = { item, row, read, hit, extra, buttons: new Map() };
  if (step.applies) {
    if (step.limit) row.append(drawLimit(step, part));
    row.append(drawActs(step, part));
  }
  item.append(row);
  parts.rows.set(step.id, part);
  return item;
}

function drawActs(step, part) {
  const acts = el("div", "acts");
  for (const [mark, word, small, drawn] of STROKES) {
    const label = `${word}${small ? ", " + small : ""}, step ${step.number}`;
    const made = button(mark === "error" ? "errors" : "mark", word, {
      className: mark, step: step.id, more: { "data-mark": mark, "aria-pressed": "false" }, shapes: [drawn], small, label,
    });
    if (mark === "error") made.setAttribute("aria-haspopup", "true");
    part.buttons.set(mark, made);
    acts.append(made);
  }
  return acts;
}

function limitWords(limit) {
  const unit = limit.unit === "1" ? "" : " " + limit.unit;
  const bounds = [limit.at_least !== null && `at least ${limit.at_least}`, limit.at_most !== null && `at most ${limit.at_most}`];
  return bounds.filter(Boolean).join(", ") + unit;
}

function drawLimit(step, part) {
  const line = el("div", "limit");
  part.value = button("value", "no value", { className: "value", step: step.id, small: "value" });
  line.append(part.value);
  if (step.limit.quantity === "time") {
    part.start = button("clock-start", "Start", { className: "clock", step: step.id, small: "at your tap" });
    part.stop = button("clock-stop", "Stop", { className: "clock", step: step.id });
    line.append(part.start, part.stop);
  }
  return line;
}

function drawEnd(data, parts) {
  const end = el("div", "end");
  parts.closedLine = el("p", "closed-line", "", { role: "status" });
  parts.clean = button("clean", "Whole attempt clean", { className: "clean", shapes: ["tick"], small: "one stroke; weaker evidence" });
  parts.cleanSays = el("div", "clean-says");
  parts.jumps = el("div", "jumps");
  for (const step of data.steps.filter((one) => one.applies && one.can_be_critical))
    parts.jumps.append(button("go", `Step ${step.number}`, { step: step.id, label: `Go to step ${step.number}` }));
  parts.cleanSays.append(el("p", ""), parts.jumps);
  const closing = el("div", "closing");
  parts.next = el("div", "next-ones", null, { hidden: "" });
  parts.leave = button("leave", "Leave, nothing kept", { className: "leave", small: "nothing is marked yet" });
  parts.close = button("ask", "Close attempt", { className: "close", more: { "data-ask": "close" }, small: "as it stands" });
  closing.append(
    parts.leave, parts.close,
    button("ask", "Stopped", { more: { "data-ask": "stop" }, small: "never an error" }),
    button("ask", "Void", { more: { "data-ask": "void" }, small: "not the student's doing" }),
    button("ask", "Also saw …", { className: "also", more: { "data-ask": "also" }, small: "another skill in this act" }),
  );
  parts.closing = closing;
  parts.large = button("large", "Large targets", { className: "large-switch", more: { "aria-pressed": "false" }, small: "for gloves; kept on this tablet" });
  parts.order = drawOrder();
  end.append(parts.closedLine, parts.next, parts.clean, parts.cleanSays, closing, parts.order, parts.large);
  return end;
}

function drawLegend(parts) {
  const legend = el("details", "legend");
  parts.legend = legend;
  legend.append(el("summary", "", "Strokes and keys (?)"));
  const table = el("table");
  const line = (drawn, words, key) => {
    const row = el("tr");
    const sign = el("td", "sign");
    if (drawn in SHAPES || drawn === "P") sign.append(shape(drawn)); else sign.textContent = drawn;
    row.append(sign, el("td", "", words), el("td", "key", key));
    table.append(row);
  };
  line("tick", "done, or no occasion for it", "Enter or space");
  line("cross", "error, with the letters of what went wrong", "a b c …");
  line("cross", "another error, in your words; never critical", "x");
  line("P", "prompted; on an error: prompted too", "p");
  line("dash", "not seen", "-");
  line("ring", "left out", "o");
  line("F", "put right unasked, beside an error or a step left out", "f");
  line("", "step up, step down", "↑ ↓");
  line("", "undo the last tap", "u");
  line("", "whole attempt clean", "w");
  line("", "this list", "?");
  legend.append(table);
  return legend;
}

// --- repainting ----------------------------------------------------------------------------------------------------

function paintPad(parts, data, state, outbox, current, line) {
  const ended = Boolean(state.ending);
  const closed = ended || Boolean(data.shut);
  parts.root.classList.toggle("closed", closed);
  parts.root.dataset.attempt = data.attempt;
  paintTurns(line, parts);
  for (const step of data.steps) paintStep(parts.rows.get(step.id), step, data, state, closed, step.id === current);
  paintHead(parts, data, state, outbox, closed);
  setText(parts.closedLine, ended ? endingWords(state.ending) : data.shut || "");
  parts.closing.hidden = ended || (closed && !data.frozen);
  paintClosing(parts, data, closed, line);
  paintNext(line, parts, ended);
  parts.clean.hidden = closed && !state.wholeClean;
  parts.clean.setAttribute("aria-pressed", String(Boolean(state.wholeClean)));
  parts.clean.disabled = closed;
  const flawed = [...state.marks.values()].some((line) => line.mark !== "done");
  setText(parts.clean.querySelector(".word"), flawed ? "Rest of the attempt clean" : "Whole attempt clean");
  paintClean(parts, data, state, closed);
  paintOrder(parts.order, data, outbox);
}

/** While nothing is marked there is nothing to close: the pad can be left, and nothing is kept of it. */
function paintClosing(parts, data, closed, line) {
  const begun = line.isBegun(data);
  parts.leave.hidden = begun || !line.nothingBegun();
  parts.close.hidden = !parts.leave.hidden;
  parts.close.disabled = closed || !begun;
  for (const made of parts.root.querySelectorAll(".also")) {
    made.disabled = closed;
    made.hidden = Boolean(data.within);
  }
}

function endingWords(ending) {
  const how = { completed: "Closed.", stopped: ending.stopped_by ? `Stopped by the ${ending.stopped_by}.` : "Stopped.", void: "Void." }[ending.how];
  return `${how}${ending.waiting ? " Waiting to be saved." : ""} Nothing more can be tapped here; a correction is made from Course, with a reason.`;
}

function paintHead(parts, data, state, outbox, closed) {
  const waiting = outbox.count;
  const refused = outbox.refusals.size;
  const trouble = outbox.trouble;
  const lines = [];
  if (trouble?.kind === "not-saved") lines.push("NOT saved");
  if (trouble?.kind === "sign-in") lines.push("Sign in again");
  if (trouble?.kind === "away") lines.push("No server");
  if (waiting) lines.push(`${waiting} waiting to be saved`);
  else if (!trouble) lines.push("all saved");
  if (refused) lines.push(`${refused} not taken`);
  setText(parts.status, lines.join(" · "));
  parts.status.classList.toggle("loud", Boolean(trouble || refused));
  parts.status.classList.toggle("waits", Boolean(waiting || trouble));
  setText(parts.undo.querySelector(".word"), state.last ? `Undo: ${actName(data, state.last)}` : "Nothing to undo");
  parts.undo.disabled = closed || !state.last;
  const critical = [...new Set(criticals(data, state))];
  setText(parts.critical, critical.length ? `critical: step ${critical.join("; ")}` : "");
  const practice = data.capacity === "practice" ? ["practice sheet: does not count for the student"] : [];
  setText(parts.what, " · " + [data.unit, data.setting, `attempt ${data.number}`, ...practice].filter(Boolean).join(" · "));
  const notes = noteWords(data, outbox);
  setText(parts.notes, notes.join(" · "));
  parts.see.style.visibility = waiting || refused || trouble || notes.length ? "visible" : "hidden";
}

/** What there is to know beside the marks, each in a few words: one line that never changes its height. */
function noteWords(data, outbox) {
  const applying = data.steps.filter((step) => step.applies).length;
  const others = data.others.map(({ observer, marked, whole }) => {
    const name = data.staff?.[observer] || "Another observer";
    return `${name} marks too: ${whole ? "whole attempt clean" : `${marked} of ${applying} steps`}`;
  });
  return [data.shut && "this session takes no more marks", data.adjusted && `${data.student.name}, another way: ${data.adjusted}`, data.left && `${data.student.name}: ${data.left}`, clockWords(outbox.offsetMs), ...others].filter(Boolean);
}

function paintStep(part, step, data, state, closed, isCurrent) {
  const line = state.marks.get(step.id);
  const whole = filled(step, state);
  const mark = whole ? "done" : line?.mark;
  part.row.tabIndex = isCurrent ? 0 : -1;
  part.item.classList.toggle("current", isCurrent);
  part.item.classList.toggle("marked", Boolean(mark));
  setText(part.read, data.read?.[step.id] || "");
  part.read.hidden = !part.read.textContent;
  const waits = line?.waiting || (whole && state.wholeClean.waiting);
  const asks = state.wholeClean && step.applies && !mark ? "asks for its own stroke" : "";
  const said = [
    step.applies ? "" : "not for this unit", whole ? "by whole attempt clean" : "", asks,
    line?.mark === "error" ? errorWords(step, line) : "",
    line?.fixed_self ? "F: put right unasked" : "", waits ? "waiting" : "",
  ].filter(Boolean).join(" · ");
  setText(part.extra, said);
  const critical = step.can_be_critical ? ", critical" : "";
  const against = overruled(step, state);
  const own = line ? markName(data, line) : whole ? "done, by whole attempt clean" : step.applies ? "no mark yet" : "not for this unit";
  const name = against ? `${own}, overruled by the value: ${against.words}` : own;
  part.row.setAttribute("aria-label", `Step ${step.number}${critical}: ${step.do} Mark: ${name}${waits ? ", waiting to be saved" : ""}.`);
  const bad = line?.mark === "error" && step.errors.some((error) => error.critical && line.errors.includes(error.id));
  const byValue = Boolean(against?.error) && line?.mark !== "error";
  for (const [own, made] of part.buttons) {
    const pressed = own === mark || (own === "prompted" && Boolean(line?.prompted)) || (own === "error" && byValue);
    made.classList.toggle("overruled", Boolean(against) && own === "done" && own === mark);
    made.setAttribute("aria-pressed", String(pressed));
    made.classList.toggle("by-whole", whole && own === "done");
    made.disabled = closed;
  }
  const leftOut = mark === "left_out" && step.if_left_out === "critical";
  const outside = Boolean(against?.error?.critical);
  setText(part.hit, bad || leftOut || outside ? "critical" : "");
  const cross = part.buttons.get("error");
  cross?.classList.toggle("is-critical", bad || (byValue && outside));
  part.buttons.get("left_out")?.classList.toggle("is-critical", leftOut);
  const lettered = line?.mark === "error" ? letters(step, line) + (line.fixed_self ? " F" : "") : byValue ? against.error.letter : "Error";
  if (cross) setText(cross.querySelector(".word"), lettered);
  if (part.value) paintValue(part, step, state.values.get(step.id), against, closed);
}

function letters(step, line) {
  return line.errors.map((id) => (id === "x" ? "x" : step.errors.find((error) => error.id === id)?.letter ?? "?")).join(" ");
}

function errorWords(step, line) {
  return line.errors.map((id) => {
    if (id === "x") return `x ${line.note || "another error"}`;
    const error = step.errors.find((one) => one.id === id);
    return error ? `${error.letter} ${error.label}` : id;
  }).join("; ");
}

function paintValue(part, step, line, against, closed) {
  const unit = step.limit.unit === "1" ? "" : " " + step.limit.unit;
  const error = against?.error;
  const counts = against ? `${against.words}${error ? `: ${error.critical ? "critical " : ""}error ${error.letter}` : ""}` : "";
  const words = line ? counts || `${line.value}${unit}` : step.limit.needs_value ? "needs its value" : "no value yet";
  const small = `${step.limit.word}, ${limitWords(step.limit)}${line?.waiting ? " · waiting" : ""}`;
  setText(part.value.querySelector(".word"), words);
  setText(part.value.querySelector(".small"), small);
  part.value.setAttribute("aria-label", `${words}, ${small}, step ${step.number}`);
  part.value.classList.toggle("is-critical", Boolean(error?.critical));
  part.value.disabled = closed;
}

function paintClean(parts, data, state, closed) {
  const own = data.steps.filter((step) => step.applies && step.can_be_critical && !state.marks.has(step.id));
  const says = closed ? "" : state.wholeClean
    ? own.length ? "Filled, except steps that can be critical. Each of these still asks for its own stroke:" : "Filled. Every step that can be critical has its own stroke."
    : own.length ? `Fills the unmarked steps where nothing critical can happen. Of those that can be critical ${own.length} still ${own.length === 1 ? "asks for its" : "ask for their"} own stroke:`
      : "Fills the unmarked steps where nothing critical can happen.";
  setText(parts.cleanSays.firstChild, says);
  const asked = new Set(own.map((step) => step.id));
  parts.jumps.hidden = closed;
  for (const made of parts.jumps.children) made.style.visibility = asked.has(made.dataset.step) ? "visible" : "hidden"; // none moves up
}
