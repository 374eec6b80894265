// Whose turn it is: several students at one skill, each with the attempts of this line, and what was seen inside an act.
// An attempt that nothing is marked of is in no ledger: its beginning is sent together with its first mark.

const STATE = ["number", "marks", "values", "whole_clean", "orders", "first_taps", "order", "ending", "outcome", "others", "events", "opens",
  "shut", "frozen", "left", "version", "read"];

class Line {
  constructor() {
    this.pads = new Map(); // attempt -> everything that its pad draws
    this.data = { students: [], also: {} };
    this.turn = null;
    this.shown = {};
  }

  /** Take what Python hands over. A state that another tablet's mark made newer meanwhile is kept. */
  update(data) {
    const before = this.pads;
    this.data = data;
    this.pads = new Map();
    for (const thin of data.pads) {
      const pad = { ...thin, ...data.forms[thin.form] };
      const had = before.get(pad.attempt);
      if (had && had.events.length > pad.events.length) for (const name of STATE) pad[name] = had[name];
      numberFroms(pad);
      this.pads.set(pad.attempt, pad);
    }
    this.recall();
  }

  /** Take states that the server says are new; true where something on this line changed. */
  take(states) {
    let changed = false;
    for (const state of states) {
      const pad = this.pads.get(state.attempt);
      if (!pad || pad.sheet !== state.sheet || state.events.length < pad.events.length) continue;
      for (const name of STATE) pad[name] = state[name];
      changed = true;
    }
    return changed;
  }

  // --- which attempt is on the screen; kept for each tablet and line, so that a reload comes back to it ---

  get key() {
    return `course.turn.${this.data.line}`;
  }

  recall() {
    let kept = null;
    try { kept = JSON.parse(sessionStorage.getItem(this.key)); } catch { /* the first one, then */ }
    this.shown = kept?.shown ?? {};
    this.turn = this.data.students.some((one) => one.id === kept?.turn && this.tries(one.id).length) ? kept.turn
      : (this.data.students.find((one) => this.tries(one.id).length) ?? this.data.students[0]).id;
  }

  show(turn, attempt) {
    this.turn = turn;
    if (attempt) this.shown = { ...this.shown, [turn]: attempt };
    try { sessionStorage.setItem(this.key, JSON.stringify({ turn: this.turn, shown: this.shown })); } catch { /* not kept */ }
  }

  /** The attempt on the screen. */
  get current() {
    return this.pads.get(this.shown[this.turn]) ?? this.usual(this.turn);
  }

  tries(turn) {
    return [...this.pads.values()].filter((pad) => pad.turn === turn && !this.hostOf(pad));
  }

  hostOf(pad) {
    return pad.within ? this.pads.get(pad.within) ?? null : null;
  }

  usual(turn) {
    const own = this.tries(turn);
    return own.filter((pad) => this.isBegun(pad)).at(-1) ?? own[0];
  }

  /** What was or can be seen inside the act that a pad belongs to: its own attempt first. */
  acts(pad) {
    const host = this.hostOf(pad) ?? pad;
    return [host, ...[...this.pads.values()].filter((one) => one.within === host.attempt && (this.isBegun(one) || one === pad))];
  }

  isBegun(pad) {
    return !pad.opens?.attempt || outbox.localItems(pad.attempt, pad.sheet).some((item) => item.kind === "attempt_opened/1");
  }

  nothingBegun() {
    return ![...this.pads.values()].some((pad) => this.isBegun(pad));
  }

  /** The next try of the student whose turn it is, or null where none is planned yet. */
  nextTry() {
    return this.tries(this.turn).find((pad) => !this.isBegun(pad)) ?? null;
  }

  /** The next student who has not ended an attempt of this line; the one on the screen is not asked. */
  nextStudent() {
    const all = this.data.students.map((one) => one.id);
    const at = all.indexOf(this.turn);
    const others = [...all.slice(at + 1), ...all.slice(0, at)].filter((id) => this.tries(id).length);
    return others.find((id) => !endingOf(this.usual(id))) ?? null;
  }

  /** What to ask the server about: the screen first, then whatever was begun or is next. */
  watched() {
    const first = this.current ? this.acts(this.current) : [];
    const others = this.data.students.flatMap((one) => [...this.tries(one.id).filter((pad) => this.isBegun(pad)), this.usual(one.id)]);
    const all = [...new Set([...first, ...others])].filter(Boolean);
    return all.slice(0, 40).map((pad) => ({ attempt: pad.attempt, sheet: pad.sheet, observer: pad.observer.id, version: pad.version }));
  }

  /** Taps that have to go before the first mark of a pad: the attempt's beginning, its host's, its sheet's. */
  beginning(pad, make) {
    if (!pad.opens) return [];
    const local = outbox.localItems(pad.attempt, pad.sheet);
    const lacks = (kind) => !local.some((item) => item.kind === kind);
    const host = pad.opens.attempt && this.hostOf(pad);
    const taps = host ? this.beginning(host, make) : [];
    if (pad.opens.attempt && lacks("attempt_opened/1")) taps.push(make(pad, "attempt_opened/1", pad.opens.attempt, `begin attempt ${pad.number}`));
    if (pad.opens.sheet && lacks("sheet_started/1")) taps.push(make(pad, "sheet_started/1", pad.opens.sheet, "begin the sheet"));
    return taps;
  }
}

/** A limit that runs from a step names it by number on the screen. */
function numberFroms(pad) {
  for (const step of pad.steps) step.fromNumber = pad.steps.find((one) => one.id === step.limit?.from)?.number ?? null;
}

function endingOf(pad) {
  return pad.ending ?? outbox.localItems(pad.attempt, pad.sheet).find((item) => item.kind === "attempt_closed/1")?.body ?? null;
}

/** The sign of one attempt: {state, word}. */
function signOf(line, pad) {
  if (!pad) return { state: "none", word: "not for this unit" };
  const ending = endingOf(pad);
  if (ending) return { state: "ended", word: pad.outcome || { completed: "closed", stopped: "stopped", void: "void" }[ending.how] };
  return line.isBegun(pad) ? { state: "open", word: "open" } : { state: "none", word: "not begun" };
}

// --- drawing ---

function drawTurns(line, parts) {
  const many = line.data.students.length > 1;
  parts.turns = el("div", "turns", null, { role: "group", "aria-label": "Students of this line, in order" });
  parts.turns.hidden = !many;
  if (many) for (const student of line.data.students) parts.turns.append(button("turn", student.name, { className: "turn", more: { "data-turn": student.id }, small: "not begun" }));
  parts.tabs = el("div", "tabs", null, { role: "group", "aria-label": "Skills of this act" });
  return [parts.turns, parts.tabs];
}

function paintTurns(line, parts) {
  for (const made of parts.turns.children) {
    const pad = made.dataset.turn === line.turn ? line.hostOf(line.current) ?? line.current : line.usual(made.dataset.turn);
    paintSign(made, signOf(line, pad));
    made.disabled = !pad;
    made.setAttribute("aria-pressed", String(made.dataset.turn === line.turn));
  }
  const all = line.acts(line.current);
  const acts = all.length > 1 ? all : [];
  const key = acts.map((pad) => pad.attempt).join(" ");
  parts.tabs.hidden = !acts.length;
  if (parts.tabs.dataset.key !== key) {
    parts.tabs.dataset.key = key;
    parts.tabs.replaceChildren(...acts.map((pad) => button("show", pad.skill.title, { className: "tab", more: { "data-of": pad.attempt }, small: " " })));
  }
  acts.forEach((pad, place) => {
    const made = parts.tabs.children[place];
    paintSign(made, signOf(line, pad));
    made.setAttribute("aria-pressed", String(pad === line.current));
  });
}

function paintSign(made, { state, word }) {
  made.dataset.state = state;
  made.classList.toggle("is-critical", word === "critical");
  setText(made.querySelector(".small"), word);
}

/** What can be done once an attempt has ended: one tap to the next. */
function paintNext(line, parts, closed) {
  const pad = line.current;
  const host = line.hostOf(pad);
  const offers = [];
  if (closed && host) offers.push(button("show", `Back to ${host.skill.title}`, { className: "main", more: { "data-of": host.attempt } }));
  const student = closed && !host ? line.nextStudent() : null;
  if (student) {
    const name = line.data.students.find((one) => one.id === student).name;
    offers.push(button("turn", `Next: ${name}`, { className: "main next", more: { "data-turn": student }, small: pad.skill.title }));
  }
  const again = closed && !host ? line.nextTry() : null;
  if (again) offers.push(button("show", `Another try of ${pad.student.name}`, { className: "again", more: { "data-of": again.attempt }, small: `attempt ${again.number}` }));
  const key = offers.map((one) => one.textContent).join("|");
  if (parts.next.dataset.key === key) return;
  parts.next.dataset.key = key;
  parts.next.hidden = !offers.length;
  parts.next.replaceChildren(...offers);
}

/** Skills that can be marked inside this act; those that are ready on this tablet come first. */
function trayAlso(line) {
  const host = line.hostOf(line.current) ?? line.current;
  const ready = [...line.pads.values()].filter((pad) => pad.within === host.attempt);
  const list = el("div", "choices");
  for (const pad of ready) {
    const shown = signOf(line, pad).word;
    list.append(button("show", pad.skill.title, { className: "choice", more: { "data-of": pad.attempt }, small: shown === "not begun" ? "" : shown }));
  }
  const known = new Set(ready.map((pad) => pad.skill.id));
  for (const skill of line.data.also[host.unit_type] || [])
    if (!known.has(skill.id)) list.append(button("also", skill.title, { className: "choice", more: { "data-skill": skill.id } }));
  return [trayHead("Also saw, in this same act", "It becomes an attempt of its own, marked by your strokes and closed by itself; it counts once for that skill."), list];
}
