// The copying grid itself: one key a mark, the cursor goes on by itself, and nothing leaves this device before the
// server has said what saving would do and the person has read it.

const DEAF_MS = 350; // what just opened under a finger is deaf for this long: a double tap is one tap
const STROKE_KEYS = { Enter: "done", " ": "done", p: "prompted", "-": "not_seen", o: "left_out" };
const MOVES = { ArrowDown: [1, 0], ArrowUp: [-1, 0], ArrowRight: [0, 1], ArrowLeft: [0, -1] };
const grids = new WeakMap();

/** When Streamlit loses its own connection it lays a dialog over the page and makes the page deaf. The grid has its own
 * way to the server and keeps every key, so it puts that dialog away as soon as it comes. */
function stayOpen() {
  const wake = () => {
    const dialog = document.querySelector('[data-testid="stDialog"]');
    dialog?.querySelector('button[aria-label="Close"], button')?.click();
  };
  const watch = new MutationObserver(wake);
  watch.observe(document.body, { childList: true });
  wake();
  return watch;
}

class Grid {
  constructor(parent) {
    this.parent = parent;
    this.typing = null; // {text}: a value that is being typed into the box
    this.asked = null; // what the tray asks
    this.deafUntil = 0;
    this.fromStorage = (event) => this.onStorage(event);
    window.addEventListener("storage", this.fromStorage);
  }

  update(component) {
    this.component = component;
    const shape = JSON.stringify({ ...component.data, next: null });
    this.data = component.data;
    if (shape !== this.shape) this.draw(shape);
    this.draft.data = this.data;
    this.paint();
  }

  draw(shape) {
    this.shape = shape;
    this.draft = new Draft(this.data);
    this.place = 0;
    this.row = 0;
    this.parts?.root.remove();
    this.parts = drawSlate(this.data);
    const { root, frame } = this.parts;
    root.addEventListener("keydown", (event) => this.onKey(event));
    root.addEventListener("click", (event) => this.onClick(event));
    root.addEventListener("change", (event) => this.onField(event.target));
    frame.addEventListener("focusin", (event) => this.follow(event.target));
    this.parent.append(root);
    this.awake ??= stayOpen();
    const first = this.nextOpen(0, -1);
    if (first) [this.place, this.row] = first;
    this.paint();
    if (this.draft.unsaved) this.say(`${count(this.draft.unsaved, "mark")} of this sheet were kept on this device.`);
    if (!this.draft.observer) this.parts.observer.focus();
    else this.focus();
  }

  remove() {
    this.awake?.disconnect();
    window.removeEventListener("storage", this.fromStorage);
    this.parts?.root.remove();
  }

  // --- where the cursor is ---

  at(place = this.place, at = this.row) {
    const column = this.data.columns[place];
    const row = this.data.rows[at];
    return { place, at, column, row, now: this.draft.column(column), here: !column.not_here.includes(row.step) };
  }

  /** The next box that waits for a stroke, after one: down its column, then the columns after it, then from the start. */
  nextOpen(place, at) {
    const { rows, columns } = this.data;
    const all = rows.length * columns.length;
    for (let step = 1; step <= all; step++) {
      const spot = (place * rows.length + at + step + all) % all;
      const found = [Math.floor(spot / rows.length), spot % rows.length];
      if (this.draft.isOpen(found[0], rows[found[1]])) return found;
    }
    return null;
  }

  goOn(place = this.place, at = this.row) {
    const next = this.nextOpen(place, at);
    if (next) return this.go(...next);
    this.paint();
    if (!this.asked) { this.parts.check.focus(); this.say("No box is empty. Check comes next."); }
    return undefined;
  }

  go(place, at) {
    this.typing = null;
    this.place = Math.max(0, Math.min(place, this.data.columns.length - 1));
    this.row = Math.max(0, Math.min(at, this.data.rows.length - 1));
    if (this.asked && this.asked.kind !== "box") this.asked = null;
    this.paint();
    if (!this.asked || !this.parts.tray.contains(this.parent.getRootNode().activeElement)) this.focus();
  }

  follow(target) {
    const cell = target.closest?.("td[data-row]");
    if (!cell) return;
    const [place, at] = [Number(cell.dataset.col), Number(cell.dataset.row)];
    if (place === this.place && at === this.row) return;
    this.keepTyped();
    [this.place, this.row] = [place, at];
    this.paint();
  }

  focus() {
    const { cell } = this.parts.cells[this.row][this.place];
    cell.focus({ preventScroll: true });
    cell.scrollIntoView({ block: this.asked ? "start" : "nearest", inline: "nearest" }); // the tray takes the lower half
  }

  // --- painting ---

  paint() {
    const { parts, data, draft } = this;
    data.rows.forEach((row, at) => data.columns.forEach((column, place) => {
      const now = draft.column(column);
      const part = parts.cells[at][place];
      const own = place === this.place && at === this.row;
      paintCell(part, row, column, {
        line: now.marks[row.step], value: now.values[row.step], filled: draft.isFilled(place, row),
        here: !column.not_here.includes(row.step), typing: own && this.typing ? this.typing.text : undefined,
      });
      part.cell.setAttribute("tabindex", own ? "0" : "-1");
      part.cell.setAttribute("aria-selected", String(own));
      part.cell.classList.toggle("now", place === this.place);
    }));
    parts.heads.forEach(({ cell, state }, place) => {
      const now = draft.column(data.columns[place]);
      const words = [now.whole_clean && "whole clean", now.how !== "completed" && now.how, now.leave ? "left as it is" : data.columns[place].entered && "in the ledger"];
      setText(state, words.filter(Boolean).join(" · "));
      cell.classList.toggle("now", place === this.place);
    });
    [...parts.table.querySelectorAll("tbody tr")].forEach((line, at) => line.classList.toggle("here", at === this.row));
    setText(parts.turned, `${columnWords(data.columns[this.place])} · ${this.place + 1} of ${data.columns.length}`);
    parts.observer.value = draft.observer || "";
    for (const side of ["start", "end"]) {
      parts[side].value = draft.seen[side];
      const second = parts[`${side}_second`];
      second.value = draft.seen[`${side}_second`] === null ? "" : String(draft.seen[`${side}_second`]);
      second.hidden = !(this.answer?.check?.twice || []).includes(side) && second.value === "";
    }
    const unsaved = draft.unsaved;
    const kept = draft.keepsNothing ? " This browser keeps nothing: save before you leave." : "";
    setText(parts.unsaved, (unsaved ? `Not saved yet: ${count(unsaved, "mark")}.` : "Nothing to save yet.") + kept);
    parts.undo.disabled = !draft.past.length;
    this.paintTray();
  }

  paintTray() {
    const { tray } = this.parts;
    const key = this.asked ? JSON.stringify([this.asked, this.place, this.row, this.draft.column(this.at().column)]) : "";
    if (key === this.trayKey) return;
    const wasShut = tray.hidden;
    this.trayKey = key;
    tray.hidden = !this.asked;
    tray.replaceChildren(...(this.asked ? drawTray(this.asked, this) : []));
    if (this.asked && wasShut) this.deafUntil = Date.now() + DEAF_MS;
  }

  say(sentence) {
    setText(this.parts.said, sentence);
  }

  /** Anything typed after a check makes that check old. */
  changed() {
    if (this.answer) this.show(null);
    this.paint();
  }

  // --- marks ---

  give(line, said, note = null) {
    const { place, row, column, here } = this.at();
    if (!here) return this.say(`Step ${row.number} is not for ${columnWords(column)}'s unit.`);
    this.draft.change(place, `step ${row.number}`, (now) => { now.marks[row.step] = line; if (note !== null) now.notes[row.step] = note; });
    this.last = [place, this.row];
    this.changed();
    return this.say(`${columnWords(column)}, step ${row.number}: ${said}`);
  }

  mark(mark, unreadable = false) {
    this.keepTyped();
    this.give({ mark, errors: [], prompted: false, fixed_self: false, unreadable }, unreadable ? "unreadable" : MARKS[mark][1]);
    if (this.at().here) this.goOn();
  }

  /** A letter adds its error to the box, or takes it away where it stands there already. */
  error(id, { stay = false, note = null } = {}) {
    this.keepTyped();
    const { row, now } = this.at();
    const before = now.marks[row.step];
    const is = before?.mark === "error" ? before : { errors: [], prompted: before?.mark === "prompted", fixed_self: false };
    const errors = is.errors.includes(id) && note === null ? is.errors.filter((one) => one !== id) : [...new Set([...is.errors, id])];
    if (!errors.length) return this.clear();
    const line = { mark: "error", errors, prompted: is.prompted, fixed_self: is.fixed_self, unreadable: false };
    this.give(line, `error ${lettersOf(row, line)}`, note);
    return stay ? undefined : this.goOn();
  }

  flag(name) {
    const own = this.at();
    const spot = own.now.marks[own.row.step]?.mark === "error" ? [this.place, this.row] : this.last;
    const { place, row, column, now } = spot ? this.at(...spot) : own;
    const line = now.marks[row.step];
    if (line?.mark !== "error") return this.say("F goes with an error: mark the error first.");
    this.draft.change(place, name, (one) => { one.marks[row.step] = { ...line, [name]: !line[name] }; });
    this.changed();
    return this.say(`${columnWords(column)}, step ${row.number}: ${boxWords(row, this.at(place, this.data.rows.indexOf(row)).now.marks[row.step], undefined, false, true)}`);
  }

  clear() {
    const { place, row, column } = this.at();
    this.draft.change(place, `step ${row.number}`, (now) => { delete now.marks[row.step]; delete now.values[row.step]; delete now.notes[row.step]; });
    this.changed();
    this.say(`${columnWords(column)}, step ${row.number}: empty`);
  }

  clean() {
    const { place, column, now } = this.at();
    const will = !now.whole_clean;
    this.draft.change(place, "whole attempt clean", (one) => { one.whole_clean = will; });
    this.changed();
    this.say(`${columnWords(column)}: whole attempt clean ${will ? "fills the steps where nothing critical can happen" : "taken back"}`);
    if (will) this.goOn(place, -1);
  }

  end(how, more = {}) {
    const { place, column } = this.at();
    this.draft.change(place, how, (now) => { Object.assign(now, { how, stopped_by: null, reason: "", second: "" }, more); });
    this.asked = null;
    this.changed();
    this.say(`${columnWords(column)}: ${how}`);
    if (how === "completed") this.focus(); else this.goOn(place, this.data.rows.length - 1);
  }

  undo() {
    this.typing = null;
    const last = this.draft.undo();
    if (!last) return this.say("Nothing to undo.");
    const at = this.data.rows.findIndex((row) => last.said === `step ${row.number}`);
    this.last = null;
    if (this.answer) this.show(null);
    this.go(last.place, at < 0 ? this.row : at);
    return this.say(`Taken back: ${last.said}.`);
  }

  // --- values ---

  /** Keep a value that was being typed; false where it is no number. */
  keepTyped() {
    if (!this.typing) return true;
    const { text } = this.typing;
    this.typing = null;
    return this.value(text);
  }

  value(text) {
    const { place, row, column } = this.at();
    const plain = decimal(text);
    if (plain === null) { this.paint(); this.say(`${columnWords(column)}, step ${row.number}: ${text} is no number. It was not kept.`); return false; }
    this.draft.change(place, `step ${row.number}`, (now) => { now.values[row.step] = plain; });
    this.changed();
    this.say(`${columnWords(column)}, step ${row.number}: ${plain} ${row.limit.unit}`);
    return true;
  }

  digit(key) {
    const { row, column, here } = this.at();
    if (!here || !row.limit) return this.say(`Step ${row.number} has no value to write down for ${columnWords(column)}.`);
    this.typing = { text: (this.typing?.text || "") + key };
    return this.paint();
  }

  typed(key) {
    if (/^[\d.,]$/.test(key)) { this.digit(key); return true; }
    if (key === "Backspace") { this.typing.text = this.typing.text.slice(0, -1); if (!this.typing.text) this.typing = null; this.paint(); return true; }
    if (key === "Escape") { this.typing = null; this.paint(); return true; }
    if (key === "Enter" || key === " ") {
      if (!this.keepTyped()) return true;
      const { row, now } = this.at();
      if (now.marks[row.step]) this.goOn(); else this.mark("done");
      return true;
    }
    return false; // any other key keeps the value first and then does what it does
  }

  // --- keys ---

  onKey(event) {
    const target = event.composedPath()[0];
    const control = event.ctrlKey || event.metaKey;
    if (control && event.key === "Enter") { event.preventDefault(); this.ask("check"); return; }
    if (control && event.key.toLowerCase() === "z" && target.tagName !== "INPUT") { event.preventDefault(); this.undo(); return; }
    if (control || event.altKey) return;
    if (event.key === "Escape" && !target.matches?.("td")) { event.preventDefault(); this.back(); return; }
    if (/^(INPUT|SELECT|TEXTAREA)$/.test(target.tagName)) { this.onFieldKey(event, target); return; }
    if (!target.matches?.("td")) return;
    if (event.repeat && !MOVES[event.key] && event.key !== "Tab") { event.preventDefault(); return; }
    if (this.press(event.key, event.shiftKey)) event.preventDefault();
  }

  onFieldKey(event, target) {
    if (event.key !== "Enter") return;
    if (target.closest(".top")) { event.preventDefault(); this.focus(); return; } // who and when are said: on to the boxes
    const main = target.closest(".tray, .beside")?.querySelector("button.main, [data-act='value'], [data-act='amend']");
    if (!main) return;
    event.preventDefault();
    this.act(main);
  }

  press(key, shift) {
    if (this.typing && (this.typed(key) || !this.keepTyped())) return true;
    if (this.asked?.kind === "stopped" && (key === "s" || key === "i")) { this.end("stopped", { stopped_by: key === "s" ? "student" : "instructor" }); return true; }
    if (MOVES[key]) { this.keepTyped(); this.go(this.place + MOVES[key][1], this.row + MOVES[key][0]); return true; }
    if (key === "Tab") return this.tab(shift);
    this.leaving = false;
    if (/^\d$/.test(key)) { this.digit(key); return true; }
    if (STROKE_KEYS[key] === "prompted" && this.at().now.marks[this.at().row.step]?.mark === "error") { this.flag("prompted"); return true; }
    if (STROKE_KEYS[key]) { this.mark(STROKE_KEYS[key]); return true; }
    const letter = this.at().row.errors.find((error) => error.letter === key);
    if (letter && this.at().here) { this.error(letter.id); return true; }
    return this.other(key);
  }

  other(key) {
    const acts = {
      "?": () => this.mark("not_seen", true), f: () => this.flag("fixed_self"), w: () => this.clean(), u: () => this.undo(),
      Backspace: () => this.clear(), Delete: () => this.clear(), n: () => this.goOn(), Escape: () => this.back(),
      x: () => this.open({ kind: "other", note: this.at().now.notes[this.at().row.step] }),
      s: () => this.open({ kind: "stopped" }), v: () => this.open({ kind: "void" }),
    };
    if (acts[key]) { this.keepTyped(); acts[key](); return true; }
    if (/^[a-z]$/.test(key)) { this.say(`Step ${this.at().row.number} has no error ${key}.`); return true; }
    return false;
  }

  /** Tab goes to the next empty box; with none left, or after Escape, it leaves the grid as it does everywhere. */
  tab(shift) {
    if (shift || this.leaving) { this.keepTyped(); return false; }
    this.keepTyped();
    if (!this.nextOpen(this.place, this.row)) return false;
    this.goOn();
    return true;
  }

  open(asked) {
    if (!this.at().here && asked.kind === "other") return;
    this.asked = asked;
    this.paintTray();
    const first = this.parts.tray.querySelector("input");
    if (asked.kind !== "box" && first) first.focus();
  }

  back() {
    if (this.asked) { this.asked = null; this.paint(); this.focus(); return; }
    if (this.answer) { this.show(null); this.focus(); return; }
    this.leaving = true;
    this.focus();
    this.say("Tab leaves the grid now.");
  }

  // --- fingers and fields ---

  onClick(event) {
    const target = event.composedPath()[0];
    const pressed = target.closest?.("button[data-act]");
    const deaf = Date.now() < this.deafUntil && pressed?.closest(event.detail ? ".tray, .answer" : ".answer");
    if (pressed) { if (!deaf) this.act(pressed); return; }
    const cell = target.closest?.("td[data-row]");
    if (!cell) return;
    this.keepTyped();
    [this.place, this.row] = [Number(cell.dataset.col), Number(cell.dataset.row)];
    this.asked = { kind: "box" };
    this.paint();
    this.focus();
  }

  act(made) {
    const { act, mark, unreadable, error, by, student, step } = made.dataset;
    const field = (name) => made.closest(".tray, .beside")?.querySelector(`[data-field="${name}"]`)?.value.trim() ?? "";
    const acts = {
      mark: () => this.mark(mark, unreadable === "true"), error: () => (error === "x" ? this.open({ kind: "other", note: this.at().now.notes[this.at().row.step] }) : this.error(error, { stay: true })),
      fixed: () => this.flag("fixed_self"), value: () => this.keepValue(field("value")), clean: () => this.clean(), clear: () => this.clear(),
      "ask-stopped": () => this.open({ kind: "stopped" }), "ask-void": () => this.open({ kind: "void" }),
      stopped: () => this.end("stopped", { stopped_by: by }), completed: () => this.end("completed"),
      void: () => (field("reason") ? this.end("void", { reason: field("reason"), second: field("second") }) : this.problem("A void attempt needs its reason.")),
      other: () => this.keepOther(field("note")), shut: () => this.back(), undo: () => this.undo(), "next-empty": () => this.goOn(),
      "turn-back": () => this.go(this.place - 1, this.row), "turn-on": () => this.go(this.place + 1, this.row),
      check: () => this.ask("check"), save: () => this.ask("save"), again: () => this.ask(this.answer?.again || "check"), back: () => this.back(),
      go: () => { this.show(null); this.go(this.columnAt(student, made.dataset.try), this.data.rows.findIndex((row) => row.step === step)); },
      forget: () => { this.draft.forget(); this.tell("open", { slate: "", session: "" }); },
      open: () => this.tell("open", { slate: made.dataset.slate, session: made.dataset.session }),
    };
    const beside = made.closest(".beside");
    if (act === "amend") return this.ask("amend", { student: beside.dataset.student, attempt_try: Number(beside.dataset.try), why: field("why") });
    if (act === "leave") return this.leave(beside.dataset.student, beside.dataset.try);
    return acts[act]?.();
  }

  problem(sentence) {
    this.asked = { ...this.asked, problem: sentence };
    this.paintTray();
  }

  keepValue(text) {
    if (decimal(text) === null) { this.problem("Write a number such as 41 or 0.72."); return; }
    this.value(text);
  }

  keepOther(note) {
    if (!note) { this.problem("Say in a few words what went wrong."); return; }
    this.asked = null;
    this.error("x", { note });
  }

  columnAt(student, attemptTry) {
    return this.data.columns.findIndex((column) => column.student === student && column.attempt_try === Number(attemptTry));
  }

  leave(student, attemptTry) {
    this.draft.change(this.columnAt(student, attemptTry), "left as it is", (now) => { now.leave = true; });
    this.paint();
    this.ask("check");
  }

  onField(target) {
    const { field } = target.dataset;
    if (field === "observer") this.draft.observer = target.value;
    else if (field === "start" || field === "end") {
      const time = target.value.trim() ? clockTime(target.value) : this.data[field];
      if (!time) { target.value = this.draft.seen[field]; this.say("Write a time on the 24-hour clock, such as 14:30. The time before stands again."); return; }
      Object.assign(this.draft.seen, { [field]: time, [`${field}_second`]: null });
    }
    else if (field === "start_second" || field === "end_second") this.draft.seen[field] = target.value === "" ? null : target.value === "true";
    else return;
    this.draft.keep();
    this.changed();
  }

  /** Another tab on the same sheet: both show the same copy. */
  onStorage(event) {
    if (!this.draft || (event.key !== null && event.key !== this.draft.key)) return;
    if (event.newValue === null) { this.draft.keep(); return; } // cleared elsewhere: what is in memory is all there is
    if (this.draft.read()) { this.say("This sheet is open in another tab too; both show the same."); this.changed(); }
  }

  // --- the server ---

  show(answer) {
    const { parts } = this;
    this.answer = answer;
    parts.answer.hidden = !answer;
    parts.answer.replaceChildren(...(answer ? drawAnswer(answer, this.data, this.draft.observer) : []));
    this.deafUntil = Date.now() + DEAF_MS;
    if (!answer) return;
    this.paint();
    const calm = answer.saved || answer.trouble || (answer.check.may_save && !answer.check.gaps.length && !answer.check.consequences.some((one) => one.serious) && !answer.news);
    const main = calm ? parts.answer.querySelector("button.main, button") : null;
    (main || parts.answer).focus({ preventScroll: true });
    parts.answer.scrollIntoView({ block: "start" });
  }

  async ask(act, more = {}) {
    this.keepTyped();
    if (this.asking) return;
    if (!this.draft.observer) { this.parts.observer.focus(); this.say("Choose who wrote this sheet."); return; }
    if (act === "amend" && !more.why) { this.say("A reason is needed, in a few words."); this.parts.answer.querySelector('[data-field="why"]')?.focus(); return; }
    this.asking = true;
    this.asked = null;
    const told = this.answer?.check?.told ?? this.answer?.told ?? null;
    const result = await this.post({ act, copy: this.draft.copy(), ...(act === "save" ? { told } : {}), ...more });
    this.asking = false;
    if (result.trouble) { this.show({ trouble: result.trouble, again: act, told }); return; }
    if (act === "save" && result.saved) { this.saved(result); return; }
    this.show({ check: result.check, news: act === "save" });
  }

  saved(result) {
    const columns = this.data.columns.map((column, place) => { // what was saved stays to be read
      if (column.entered || !this.draft.isWritten(place)) return column;
      const { marks, values, whole_clean, how, stopped_by } = this.draft.column(column);
      return { ...column, entered: true, saved: { marks, values, whole_clean, how, stopped_by } };
    });
    this.data = this.draft.data = { ...this.data, columns };
    this.draft.forget();
    rememberWhoWrote(this.data, this.draft.observer);
    this.show({ saved: result.sentence });
    this.say(result.sentence);
  }

  async post(content) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), 10000);
    try {
      const answer = await fetch(this.data.route, {
        method: "POST", cache: "no-store", credentials: "same-origin", redirect: "error", signal: stop.signal,
        headers: { "Content-Type": "application/json", "X-Course": "pad" }, body: JSON.stringify(content),
      });
      const said = await answer.json();
      return answer.ok ? said : { trouble: said.sentence || `The server answered ${answer.status}.` };
    } catch {
      return { trouble: "The server does not answer." };
    } finally {
      clearTimeout(timer);
    }
  }

  tell(name, value) {
    try { this.component.setTriggerValue(name, value); } catch { this.say("The page has lost its server. Load it again; nothing is lost."); }
  }
}

export default function (component) {
  const { parentElement } = component;
  if (!grids.has(parentElement)) grids.set(parentElement, new Grid(parentElement));
  grids.get(parentElement).update(component);
  return () => {
    grids.get(parentElement)?.remove();
    grids.delete(parentElement);
  };
}
