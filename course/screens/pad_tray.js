// The tray at the foot of the pad: one thing asked at a time. `asked` says what; its texts survive a repaint.

const FIELD = "text";

function drawTray(asked, data, state, outbox, line) {
  if (asked.kind === "also") return trayAlso(line);
  const drawers = {
    errors: trayErrors, other: trayOther, value: trayValue, clock: trayClock, order: trayOrder, close: trayClose, stop: trayStop, void: trayVoid, see: traySee,
  };
  return drawers[asked.kind](asked, data, state, outbox);
}

function trayHead(title, line = "") {
  const head = el("div", "tray-head");
  const words = el("div", "tray-words");
  words.append(el("h2", "", title));
  if (line) words.append(el("p", "", line));
  head.append(words, button("shut", "Back", { className: "shut" }));
  return head;
}

function stepOf(asked, data) {
  return data.steps.find((step) => step.id === asked.step);
}

function trayErrors(asked, data, state) {
  const step = stepOf(asked, data);
  const line = state.marks.get(step.id);
  const is = line?.mark === "error" ? line : { errors: [], prompted: false, fixed_self: false };
  const list = el("div", "choices");
  for (const error of step.errors) list.append(...errorChoice(step, error, is));
  const other = button("other", "Another error, in your words", { className: "choice", step: step.id, more: { "data-error": "x", "aria-pressed": String(is.errors.includes("x")) }, small: is.errors.includes("x") ? line.note || "" : step.can_be_critical ? "kept as an error; the attempt will not count" : "kept as a minor error" });
  other.prepend(el("span", "big", "x", { "aria-hidden": "true" }));
  list.append(other);
  const flags = el("div", "flags");
  const flag = (act, big, words, on) => {
    const made = button(act, words, { step: step.id, more: { "aria-pressed": String(on) } });
    made.prepend(el("span", "big", big, { "aria-hidden": "true" }));
    made.disabled = !is.errors.length;
    flags.append(made);
  };
  flag("prompt-too", "P", "prompted too", is.prompted);
  flag("fixed", "F", "put right unasked", is.fixed_self);
  return [trayHead(`Step ${step.number}: what went wrong?`, step.do), list, flags];
}

function errorChoice(step, error, is) {
  const on = is.errors.includes(error.id);
  const label = `${error.letter}, ${error.label}${error.critical ? ", critical" : ""}, step ${step.number}`;
  const made = button("error", error.label, {
    className: "choice" + (error.critical ? " can-be-critical" : ""), step: step.id, label,
    more: { "data-error": error.id, "aria-pressed": String(on) }, small: on && error.numbers ? `${error.consequence} In numbers: ${error.numbers}` : error.consequence,
  });
  made.prepend(el("span", "big", error.letter, { "aria-hidden": "true" }));
  if (error.critical) made.querySelector(".words").prepend(el("span", "critical", "critical"));
  if (!on || is.errors.length < 2) return [made];
  const off = button("error-off", `Take ${error.letter} off`, { className: "off", step: step.id, more: { "data-error": error.id } });
  return [made, off];
}

function field(asked, label, { hint = "", mode = "", area = false } = {}) {
  const box = el("label", "field");
  box.append(el("span", "", label));
  const input = el(area ? "textarea" : "input", "", null, { "data-field": FIELD, autocomplete: "off", maxlength: "300", ...(mode ? { inputmode: mode } : {}) });
  input.value = asked.text || "";
  box.append(input);
  if (hint) box.append(el("span", "hint", hint));
  return box;
}

function problem(asked) {
  return el("p", "problem", asked.problem || "", { role: "alert" });
}

function choices(...buttons) {
  const row = el("div", "answers");
  row.append(...buttons);
  return row;
}

function trayOther(asked, data) {
  const step = stepOf(asked, data);
  return [
    trayHead(`Step ${step.number}: another error`, step.do),
    field(asked, "What went wrong, in your words", { hint: "About the step, not about the person. It is never critical." }), problem(asked),
    choices(button("keep-other", "Keep x", { className: "main", step: step.id }),
      button("words-later", "Keep x, words later", { step: step.id })),
  ];
}

function trayValue(asked, data) {
  const step = stepOf(asked, data);
  const limit = step.limit;
  const unit = limit.unit === "1" ? "" : `, in ${limit.unit}`;
  const from = data.steps.find((one) => one.id === limit.from);
  const starts = limit.quantity !== "time" ? "" : from ? ` The clock starts at step ${from.number}.` : " The clock starts at your sign.";
  return [
    trayHead(`Step ${step.number}: ${limit.word}`, `${limitWords(limit)}; the bound itself is good.${starts}`),
    field(asked, `${limit.word}${unit}`, { mode: "decimal" }), problem(asked),
    choices(button("keep-value", asked.text ? `Keep ${asked.text}` : "Keep", { className: "main", step: step.id })),
  ];
}

/** The clock was read: what it says is kept, or it goes on as if it had not been stopped. */
function trayClock(asked, data) {
  const step = stepOf(asked, data);
  const unit = step.limit.unit;
  const keeps = asked.readings.map(({ value, from }, place) =>
    button("keep-reading", `Keep ${value} ${unit}`, { className: place ? "" : "main", step: step.id, more: { "data-value": value }, small: from }));
  const lacks = missed(step.limit, asked.readings[0].value);
  const head = trayHead(`Step ${step.number}: ${asked.readings[0].value} ${unit}`, `${limitWords(step.limit)}${lacks ? `. ${lacks}: kept so, it overrules the tick` : "; the bound itself is good"}.`);
  head.querySelector(".shut .word").textContent = "Let it run on";
  return [
    head,
    choices(...keeps, button("value", "Type it", { step: step.id }), button("clock-drop", "Drop this time", { step: step.id })),
  ];
}

function trayOrder(asked, data) {
  const number = (id) => data.steps.find((step) => step.id === id).number;
  const { late, firsts, critical } = asked.question;
  const names = firsts.map(number).join(", ");
  const head = trayHead(`${names} before ${number(late)}: seen so?`, `Tapped in this order. ${critical ? "Seen so, it is critical." : "Only your yes makes it an order fault."}`);
  head.querySelector(".shut .word").textContent = "Later";
  const more = firsts.length > 1 ? [button("order-each", "Ask one by one")] : [];
  return [head, choices(button("order-no", "No, only tapped so"), button("order-yes", "Yes, seen so"),
    button("order-fixed", "Yes, and put right unasked", { small: "still an error" }), ...more)];
}

function gapWords(data, state) {
  const lacks = gaps(data, state);
  const lines = [];
  const numbers = (steps) => steps.map((step) => step.number).join(", ");
  if (lacks.unseen.length) {
    const of = lacks.critical.length ? `; ${lacks.critical.length} of them can be critical (step ${numbers(lacks.critical)})` : "";
    lines.push(`${count(lacks.unseen.length, "step")} without a mark will be not seen (step ${numbers(lacks.unseen)})${of}.`);
  } else lines.push("Every step has its mark.");
  if (lacks.values.length) lines.push(`No value yet at step ${numbers(lacks.values)}: without it the step is not seen.`);
  return lines;
}

function trayClose(asked, data, state, outbox) {
  const lines = el("div", "lines");
  for (const line of gapWords(data, state)) lines.append(el("p", "", line));
  const critical = [...new Set(criticals(data, state))];
  if (critical.length) lines.append(el("p", "critical", `critical: step ${critical.join("; ")}`));
  const order = drawOrder();
  paintOrder(order, data, outbox);
  return [trayHead(`Close attempt ${data.number} of ${data.student.name}?`, data.skill.title), lines, order,
    choices(button("shut", "Go on marking"), button("close", "Close attempt", { className: "main" }))];
}

function trayStop(asked, data) {
  return [trayHead("Who stopped the attempt?", "Calling a stop is never an error. What was marked so far is kept."),
    field(asked, "Reason, if you want to keep one"),
    choices(button("stop", "The student", { more: { "data-by": "student" } }), button("stop", "The instructor", { more: { "data-by": "instructor" } }))];
}

function trayVoid(asked, data, state) {
  const critical = criticals(data, state).length > 0;
  const parts = [trayHead("Void: not the student's doing", "The attempt stays in the ledger and counts for nothing."),
    field(asked, "Reason (needed)", { hint: "Such as: session called off for lightning." })];
  if (critical) {
    const box = el("label", "field");
    box.append(el("span", "", "A critical error is marked: which second person agrees?"));
    const select = el("select", "", null, { "data-field": "second" });
    select.append(el("option", "", "Choose", { value: "" }));
    for (const person of data.persons) if (person.id !== data.observer.id) select.append(el("option", "", person.name, { value: person.id }));
    select.value = asked.second || "";
    box.append(select);
    parts.push(box);
  }
  return [...parts, problem(asked), choices(button("shut", "Go on marking"), button("void", "Void this attempt", { className: "main" }))];
}

function traySee(asked, data, state, outbox) {
  const waiting = outbox.waiting().filter((entry) => !BEGINNINGS.includes(entry.item.kind));
  const lines = el("div", "lines");
  if (outbox.trouble) lines.append(el("p", "", outbox.trouble.sentence));
  if (outbox.keepsNothing) lines.append(el("p", "", "This browser keeps nothing: leave the page open until all is saved."));
  const here = waiting.filter((entry) => entry.item.attempt === data.attempt);
  if (here.length) lines.append(el("p", "", `Waiting here, kept on this tablet: ${here.map((entry) => entry.said).join("; ")}.`));
  if (waiting.length > here.length) lines.append(el("p", "", `${count(waiting.length - here.length, "tap")} of other attempts, kept and sent as well.`));
  for (const words of noteWords(data, outbox)) lines.append(el("p", "", `${words[0].toUpperCase()}${words.slice(1)}.`));
  if (data.shut) lines.append(el("p", "", data.shut));
  for (const entry of outbox.refusals.values()) {
    const line = el("div", "refused");
    const place = entry.item.attempt === data.attempt ? "" : "another attempt, ";
    line.append(el("p", "", `Not taken: ${place}${entry.said}. ${entry.sentence}`), button("put-away", "Put away", { more: { "data-id": entry.item.id } }));
    lines.append(line);
  }
  if (!lines.childElementCount) lines.append(el("p", "", "Nothing waits; all is saved."));
  const offers = [button("again", "Try now", { className: "main" })];
  if (outbox.trouble?.kind === "sign-in") offers.unshift(button("sign-in", "Sign in", { className: "main" }));
  if (outbox.refusals.size) offers.push(button("send-again", "Send again what was not taken"));
  if (waiting.length || outbox.refusals.size) offers.push(button("file", "Save waiting taps as a file"));
  return [trayHead(`On this tablet, ${outbox.tablet.slice(0, 4)}`), lines, choices(...offers)];
}

/** Give the focus to what is asked for first. */
function focusFirst(tray, asked) {
  const first = ["other", "value"].includes(asked.kind) ? "[data-field]" : ".choice, .answers button";
  (tray.querySelector(first) || tray.querySelector("button"))?.focus({ preventScroll: true });
}

/** A selector for what has the focus inside a part that is drawn again, or "". */
function focusedIn(root, part) {
  const active = root.activeElement ?? document.activeElement;
  if (!active || !part.contains(active)) return "";
  const named = ["act", "step", "error", "field", "id"].filter((name) => active.dataset?.[name] !== undefined);
  return named.map((name) => `[data-${name}="${CSS.escape(active.dataset[name])}"]`).join("") || "button";
}
