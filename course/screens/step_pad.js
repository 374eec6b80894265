// The pad itself: a tap becomes an item with its own id and with attempt, sheet and student as they stand on the screen.

const TELL_MS = 4000;
const GUARD_MS = 400; // a wet finger taps twice: the same button is deaf for this long
const outbox = new Outbox();
const pads = new WeakMap();

/** When Streamlit loses its own connection it lays a dialog over the page and makes the page deaf. The pad has its own
 * way to the server and keeps every tap, so it puts that dialog away as soon as it comes. */
function stayAwake() {
  const wake = () => {
    const dialog = document.querySelector('[data-testid="stDialog"]');
    dialog?.querySelector('button[aria-label="Close"], button')?.click();
  };
  const watch = new MutationObserver(wake);
  watch.observe(document.body, { childList: true });
  wake();
  return watch;
}

function isLarge() {
  try { return localStorage.getItem("course.large") === "yes"; } catch { return false; }
}

class Pad {
  constructor(parent) {
    this.parent = parent;
    this.asked = null; // what the tray asks
    this.tapped = new Map(); // button -> when
    this.deaf = null; // {until, top}: where the tray just opened or shut, a second tap is not meant
    this.later = new Set(); // order questions put off on this screen
    this.newest = 0;
    this.line = new Line();
    this.repaint = (saved = []) => this.onOutbox(saved);
    outbox.listeners.add(this.repaint);
    this.watching = () => this.line.watched();
    outbox.watched = this.watching;
    outbox.newStates = (states) => this.take(states);
    this.ticking = setInterval(() => this.tick(), 200);
  }

  get data() {
    return this.line.current;
  }

  update(component) {
    this.component = component;
    const { route, pulse, centre } = component.data;
    Object.assign(outbox, { route, pulseRoute: pulse, centre });
    this.line.update(component.data);
    for (const pad of this.line.pads.values()) outbox.known(pad.events);
    this.showWanted();
    this.redraw();
    outbox.flush();
    if (this.newest === 0) outbox.pulse();
    this.newest += 1;
  }

  /** Another tablet marked, or a session was closed: the server says what stands now. */
  take(states) {
    if (!this.line.take(states)) return;
    for (const { events } of states) outbox.known(events);
    if (this.parts) this.redraw();
  }

  redraw() {
    const { attempt, sheet, steps, student, skill, unit, observer } = this.data;
    outbox.observer = observer.id;
    const shapeOf = JSON.stringify([attempt, sheet, steps, student, skill, unit, this.line.data.students]);
    if (shapeOf !== this.shape) this.draw(shapeOf);
    this.paint();
  }

  draw(shapeOf) {
    this.shape = shapeOf;
    this.asked = null;
    this.trayKey = "";
    const data = this.data;
    this.current = data.steps.find((step) => step.applies && !data.marks.some((line) => line.step === step.id))?.id ?? data.steps[0].id;
    this.parts?.root.remove();
    this.parts = drawPad(data, this.line);
    const root = this.parts.root;
    root.addEventListener("click", (event) => this.onClick(event));
    root.addEventListener("keydown", (event) => this.onKey(event));
    root.addEventListener("focusin", (event) => this.follow(event.target.closest?.("[data-row]")?.dataset.row));
    root.addEventListener("input", (event) => this.onInput(event.target));
    this.parent.append(root);
    this.paintLarge();
    this.awake ??= stayAwake();
    // a keyboard finds its place at once; on a touch screen a frame round a step would look like a choice
    if (matchMedia("(pointer: fine)").matches && document.activeElement === document.body) this.rowOf(this.current).focus({ preventScroll: true });
  }

  // --- whose turn it is ---

  /** Put another attempt on the screen: of the next student, another try, or one seen inside this act. */
  show(turn, attempt) {
    this.line.show(turn, attempt);
    this.later.clear();
    this.redraw();
    this.deafen(0);
    const { root, turns } = this.parts;
    if (root.getBoundingClientRect().top < 0) root.scrollIntoView({ block: "start" });
    turns.querySelector('[aria-pressed="true"]')?.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  showAttempt(attempt) {
    const pad = this.line.pads.get(attempt);
    if (pad) this.show(pad.turn, attempt);
  }

  /** A skill that this tablet has no steps of yet is asked for; it is shown as soon as Python hands it over. */
  askAlso(skill) {
    this.wanted = { skill, host: (this.line.hostOf(this.data) ?? this.data).attempt };
    this.shut();
    this.trigger("also", skill);
  }

  showWanted() {
    if (!this.wanted) return;
    const { skill, host } = this.wanted;
    const pad = [...this.line.pads.values()].find((one) => one.within === host && one.skill.id === skill);
    if (!pad) return;
    this.wanted = null;
    this.line.show(pad.turn, pad.attempt);
  }

  leave() {
    this.trigger("leave", this.line.data.line);
  }

  // --- large targets ---

  switchLarge() {
    const on = !isLarge();
    try { localStorage.setItem("course.large", on ? "yes" : ""); } catch { this.large = on; }
    this.paintLarge();
    this.parts.large.scrollIntoView({ block: "nearest" });
  }

  paintLarge() {
    const on = isLarge() || Boolean(this.large);
    this.parts.root.classList.toggle("large", on);
    this.parts.large.setAttribute("aria-pressed", String(on));
  }

  remove() {
    if (outbox.watched === this.watching) outbox.watched = () => []; // another pad may be drawn already
    this.awake?.disconnect();
    clearInterval(this.ticking);
    outbox.listeners.delete(this.repaint);
    this.parts?.root.remove();
  }

  // --- painting ---

  get state() {
    return foldPad(this.data, outbox.localItems(this.data.attempt, this.data.sheet));
  }

  paint() {
    const state = this.state;
    paintPad(this.parts, this.data, state, outbox, this.current, this.line);
    const question = orderQuestions(this.data, state).find((one) => !this.later.has(one.key));
    if (this.asked?.kind === "order") this.asked = null;
    if (!this.asked && question && !state.ending && !this.data.shut) this.asked = { kind: "order", question: this.each ? { ...question, firsts: question.firsts.slice(0, 1) } : question };
    if (!question) this.each = false;
    this.paintTray(state);
  }

  paintTray(state) {
    const tray = this.parts.tray;
    const key = this.asked ? JSON.stringify([this.asked.kind, this.asked.step, this.asked.question, this.asked.problem, this.asked.readings]) : "";
    const changing = ["errors", "close", "void", "see"].includes(this.asked?.kind);
    if (key === this.trayKey && !changing) return;
    const opened = key !== this.trayKey;
    const focused = focusedIn(this.parent, tray);
    this.trayKey = key;
    tray.hidden = !this.asked;
    tray.replaceChildren(...(this.asked ? drawTray(this.asked, this.data, state, outbox, this.line) : []));
    if (!this.asked) return;
    tray.setAttribute("aria-label", tray.querySelector("h2").textContent);
    if (opened) this.deafen(tray.getBoundingClientRect().top);
    if (opened && this.asked.kind !== "order") focusFirst(tray, this.asked);
    else if (focused) (tray.querySelector(focused) || tray.querySelector("button"))?.focus({ preventScroll: true });
  }

  onOutbox(saved) {
    if (!this.parts) return;
    this.paint();
    const own = saved.filter((item) => this.line.pads.has(item.attempt));
    if (!own.length) return;
    this.savedSince = (this.savedSince || 0) + own.length;
    clearTimeout(this.telling);
    this.telling = setTimeout(() => { // once the taps pause: the pad itself needs nothing of it
      this.trigger("saved", this.savedSince);
      this.savedSince = 0;
    }, TELL_MS);
    const closed = own.find((item) => item.kind === "attempt_closed/1");
    if (closed) this.trigger("closed", closed.attempt);
    if (closed) outbox.pulse();
  }

  trigger(name, value) {
    try { this.component.setTriggerValue(name, value); } catch { /* Python asks again at its next run */ }
  }

  say(sentence) {
    setText(this.parts.said, sentence);
    clearTimeout(this.hushing);
    this.hushing = setTimeout(() => setText(this.parts.said, ""), 8000);
  }

  rowOf(step) {
    return this.parts.rows.get(step).row;
  }

  follow(step) {
    if (!step || step === this.current) return;
    const before = this.parts.rows.get(this.current);
    before.row.tabIndex = -1;
    before.item.classList.remove("current");
    this.current = step;
    this.parts.rows.get(step).row.tabIndex = 0;
    this.parts.rows.get(step).item.classList.add("current");
  }

  // --- what a tap does ---

  deafen(top) {
    this.deaf = { until: performance.now() + GUARD_MS, top };
  }

  /** An order question that was put off is asked again before the attempt is closed: afterwards nobody can answer it. */
  asksOrderFirst() {
    if (!orderQuestions(this.data, this.state).length) return false;
    this.later.clear();
    this.asked = null;
    this.paint();
    return true;
  }

  ask(asked) {
    this.asked = asked;
    this.paint();
  }

  shut() {
    if (!this.asked) return;
    if (this.asked.kind === "order") this.later.add(this.asked.question.key);
    const top = this.parts.tray.getBoundingClientRect().top;
    const had = focusedIn(this.parent, this.parts.tray);
    this.asked = null;
    this.paint();
    this.deafen(top);
    if (had) this.rowOf(this.current).focus({ preventScroll: true });
  }

  onClick(event) {
    const target = event.target.closest("[data-act]");
    const row = event.target.closest("[data-row]");
    this.follow(row?.dataset.row);
    if (!target || target.disabled) return;
    const at = performance.now();
    const byFinger = event.detail > 0; // a key's click has no detail
    if (byFinger && this.deaf && at < this.deaf.until && event.clientY >= this.deaf.top) return;
    const name = [...Object.values(target.dataset), this.data.attempt].join(" ");
    if (at - (this.tapped.get(name) ?? -GUARD_MS) < GUARD_MS) return;
    this.tapped.set(name, at);
    if (row && this.asked && this.asked.kind !== "order" && target.dataset.act !== "errors") this.asked = null;
    this.act(target.dataset);
  }

  act({ act, step, mark, error, ask, by, id, turn, of, skill, value }) {
    const acts = {
      mark: () => this.mark(step, mark),
      errors: () => this.ask({ kind: "errors", step }),
      error: () => { this.addError(step, error); this.shut(); },
      "error-off": () => this.give(step, { errors: this.errorsOf(step).filter((one) => one !== error) }),
      other: () => this.ask({ kind: "other", step, text: this.state.marks.get(step)?.note || "" }),
      "keep-other": () => this.keepOther(step, this.asked.text || ""),
      "words-later": () => this.keepOther(step, "Words to follow."),
      "prompt-too": () => this.give(step, { prompted: !this.state.marks.get(step).prompted }),
      fixed: () => this.fixed(step),
      value: () => this.ask({ kind: "value", step, text: "" }),
      "keep-value": () => this.keepValue(step),
      "clock-start": () => this.startClock(step),
      "clock-stop": () => this.stopClock(step),
      "clock-drop": () => { keepClock(this.data.attempt, step, null); this.shut(); },
      "keep-reading": () => { this.keepReading(step, value); this.shut(); },
      turn: () => this.show(turn),
      show: () => this.showAttempt(of),
      also: () => this.askAlso(skill),
      leave: () => this.leave(),
      large: () => this.switchLarge(),
      "send-again": () => { outbox.sendAgain(); this.shut(); },
      "order-yes": () => this.answerOrder(true),
      "order-no": () => this.answerOrder(false),
      "order-each": () => { this.each = true; this.paint(); },
      clean: () => this.clean(),
      go: () => this.go(step),
      undo: () => this.undo(),
      ask: () => (ask === "close" && this.asksOrderFirst()) || this.ask({ kind: ask }),
      close: () => this.close({ how: "completed" }),
      stop: () => this.close({ how: "stopped", stopped_by: by, ...(this.asked.text?.trim() ? { reason: this.asked.text.trim() } : {}) }),
      void: () => this.voidAttempt(),
      shut: () => this.shut(),
      see: () => this.ask({ kind: "see" }),
      again: () => outbox.hurry(),
      "put-away": () => outbox.putAway(id),
      "sign-in": () => { location.href = "/course/sign-in?then=" + encodeURIComponent(location.pathname + location.search); },
      file: () => saveAsFile([...outbox.waiting(), ...outbox.refusals.values()], outbox.centre, outbox.tablet),
    };
    acts[act]();
  }

  put(kind, body, said) {
    const make = (pad, ofKind, content, words) => {
      const now = Date.now();
      const item = {
        id: newId(now), attempt: pad.attempt, student: pad.student.id, sheet: pad.sheet, kind: ofKind, body: content,
        tapped_at: new Date(now).toISOString(), clock_offset_ms: outbox.offsetMs,
      };
      return { item, said: words };
    };
    const before = this.line.beginning(this.data, make);
    outbox.putAll([...before, make(this.data, kind, body, said)]);
  }

  /** Give a step its mark; it takes the place of every mark of the step that stands. */
  give(step, changes) {
    const before = this.state.marks.get(step);
    const line = {
      step, mark: before?.mark, errors: before?.errors || [], prompted: before?.prompted || false, fixed_self: before?.fixed_self || false,
      ...changes, replaces: before?.events || [],
    };
    const note = line.errors.includes("x") ? changes.note ?? before?.note : null;
    delete line.note;
    const body = { marks: [line], ...(note ? { notes: { [step]: note } } : {}) };
    const number = this.data.steps.find((one) => one.id === step).number;
    this.put("marks_given/1", body, `step ${number} ${markName(this.data, line)}`);
  }

  mark(step, mark) {
    const before = this.state.marks.get(step);
    if (mark === "prompted" && before?.mark === "error") return before.prompted ? undefined : this.give(step, { prompted: true });
    if (before?.mark === mark) return undefined;
    return this.give(step, { mark, errors: [], prompted: false, fixed_self: false });
  }

  errorsOf(step) {
    const line = this.state.marks.get(step);
    return line?.mark === "error" ? line.errors : [];
  }

  /** Add an error to what is marked; a prompt that was marked before stays beside it. */
  addError(step, error, note) {
    const before = this.state.marks.get(step);
    const had = this.errorsOf(step);
    if (had.includes(error) && note === undefined) return;
    const errors = had.includes(error) ? had : [...had, error];
    const kept = before?.mark === "error" ? {} : { prompted: before?.mark === "prompted", fixed_self: false };
    this.give(step, { mark: "error", errors, ...kept, ...(note === undefined ? {} : { note }) });
  }

  keepOther(step, words) {
    const note = words.trim();
    if (!note) return this.ask({ ...this.asked, problem: "Write a word or two, or keep it with words later." });
    this.addError(step, "x", note);
    return this.shut();
  }

  fixed(step) {
    const line = this.state.marks.get(step);
    if (!["error", "left_out"].includes(line?.mark)) return this.say("F goes beside an error or a step left out.");
    return this.give(step, { fixed_self: !line.fixed_self });
  }

  keepValue(step) {
    const value = decimal(this.asked.text || "");
    if (value === null) return this.ask({ ...this.asked, problem: "Write a plain number such as 41 or 0.21." });
    this.keepReading(step, value);
    return this.shut();
  }

  /** Keep a value; one outside its limit is the step's error whatever was ticked, and the pad says so at once. */
  keepReading(step, value) {
    const { limit, number } = this.data.steps.find((one) => one.id === step);
    const before = this.state.values.get(step);
    keepClock(this.data.attempt, step, null);
    if (before?.value === value) return;
    this.put("value_measured/1", { step, quantity: limit.quantity, unit: limit.unit, value, replaces: before?.events || [] }, `step ${number} ${value} ${limit.unit}`);
    const lacks = missed(limit, value);
    if (lacks) this.say(`Step ${number}: ${lacks}, whatever was ticked.`);
  }

  answerOrder(seenSo) {
    const { late, firsts } = this.asked.question;
    this.asked = null;
    const number = (id) => this.data.steps.find((step) => step.id === id).number;
    for (const first of firsts)
      this.put("order_answered/1", { first_done: first, should_come_first: late, seen_so: seenSo, replaces: [] }, `${number(first)} before ${number(late)}: ${seenSo ? "yes" : "no"}`);
    this.deafen(0);
  }

  clean() {
    if (this.state.wholeClean) return;
    this.put("whole_attempt_clean/1", {}, "whole attempt clean");
  }

  undo() {
    const last = this.state.last;
    if (!last || this.state.ending || this.data.shut) return;
    const name = actName(this.data, last);
    this.put("withdrawn/1", { withdraws: last.event }, `undo ${name}`);
    this.say(`Taken back: ${name}.`);
  }

  close(body) {
    this.deafen(this.parts.tray.getBoundingClientRect().top);
    this.asked = null;
    this.put("attempt_closed/1", body, `close attempt ${this.data.number}`);
    this.trayKey = undefined;
    this.paint();
  }

  voidAttempt() {
    const reason = (this.asked.text || "").trim();
    const needsSecond = criticals(this.data, this.state).length > 0;
    if (!reason) return this.ask({ ...this.asked, problem: "Void needs a reason." });
    if (needsSecond && !this.asked.second) return this.ask({ ...this.asked, problem: "A critical error is marked: choose the second person who agrees." });
    return this.close({ how: "void", reason, ...(needsSecond ? { second: this.asked.second } : {}) });
  }

  go(step) {
    const row = this.rowOf(step);
    row.scrollIntoView({ block: "center" });
    row.focus({ preventScroll: true });
  }

  // --- the clock of a time limit: started, read and kept by the observer's taps, never by itself ---

  tapOf(step) {
    return fromTap(this.data, outbox.localItems(this.data.attempt, this.data.sheet), step, outbox.offsetMs);
  }

  /** Start the clock; where its limit runs from a step that was tapped here, it counts from that tap. */
  startClock(id) {
    const step = this.data.steps.find((one) => one.id === id);
    const running = clockOf(this.data.attempt, id);
    const now = Date.now();
    if (running) return this.say(`The clock of step ${step.number} runs already, for ${minutesAndSeconds(now - running.from)}. It goes on; stop it first.`);
    const tapped = this.tapOf(step);
    const from = tapped !== null && tapped <= now && now - tapped < LONGEST_MS ? tapped : now;
    keepClock(this.data.attempt, id, { from, tapped: now });
    return this.tick();
  }

  /** Read the clock. It runs on until its reading is kept or dropped. */
  stopClock(id) {
    const step = this.data.steps.find((one) => one.id === id);
    const running = clockOf(this.data.attempt, id);
    if (!running) return;
    const now = Date.now();
    if (now < running.from || now - running.from > LONGEST_MS) {
      keepClock(this.data.attempt, id, null);
      this.ask({ kind: "value", step: id, text: "", problem: "This clock cannot be trusted: the tablet's time was changed. Type the value." });
      return;
    }
    const readings = [{ value: reading(step.limit, now - running.from), from: running.from === running.tapped ? "from your tap" : `from step ${step.fromNumber}` }];
    if (running.from !== running.tapped) readings.push({ value: reading(step.limit, now - running.tapped), from: "from your tap on Start" });
    this.ask({ kind: "clock", step: id, readings });
  }

  tick() {
    if (!this.parts) return;
    if (!this.parts.root.isConnected && this.newest) { this.remove(); return; }
    const closed = Boolean(this.data.shut || endingOf(this.data));
    for (const step of this.data.steps.filter(isTimed)) {
      const running = clockOf(this.data.attempt, step.id);
      paintClock(this.parts.rows.get(step.id), step, running, running ? null : this.tapOf(step), Date.now(), closed);
    }
  }

  // --- keys and fields ---

  onInput(input) {
    if (!this.asked || !input.dataset?.field) return;
    this.asked[input.dataset.field] = input.value;
    const keep = this.parts.tray.querySelector('[data-act="keep-value"] .word');
    if (keep) setText(keep, decimal(input.value) === null ? "Keep" : `Keep ${decimal(input.value)}`);
  }

  onKey(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape" && this.asked) { event.preventDefault(); this.shut(); return; }
    const target = event.target;
    if (/^(INPUT|TEXTAREA|SELECT)$/.test(target.tagName)) {
      if (event.key === "Enter" && this.asked) { event.preventDefault(); this.act(this.parts.tray.querySelector(".main").dataset); }
      return;
    }
    const isRow = target.dataset.row !== undefined;
    if ((event.key === "Enter" || event.key === " ") && !isRow) return; // the button's own click
    if (this.press(event.key)) event.preventDefault();
  }

  press(key) {
    const move = { ArrowDown: 1, ArrowUp: -1 }[key];
    if (move) return this.move(move);
    if (key === "?") { this.parts.legend.open = !this.parts.legend.open; return true; }
    const step = this.data.steps.find((one) => one.id === this.current);
    if (this.state.ending || this.data.shut) return false;
    if (key === "u") { this.undo(); return true; }
    if (key === "w") { this.clean(); return true; }
    if (!step?.applies) return false;
    const marks = { Enter: "done", " ": "done", p: "prompted", "-": "not_seen", o: "left_out" };
    if (marks[key]) { this.mark(step.id, marks[key]); return true; }
    if (key === "f") { this.fixed(step.id); return true; }
    if (key === "x") { this.ask({ kind: "other", step: step.id, text: this.state.marks.get(step.id)?.note || "" }); return true; }
    const error = step.errors.find((one) => one.letter === key);
    if (error) { this.addError(step.id, error.id); if (this.asked?.kind === "errors") this.shut(); return true; }
    return false;
  }

  move(by) {
    const order = this.data.steps.map((step) => step.id);
    const next = order[order.indexOf(this.current) + by];
    if (!next) return true;
    const row = this.rowOf(next);
    this.follow(next);
    row.focus({ preventScroll: true });
    row.scrollIntoView({ block: "nearest" });
    return true;
  }
}

export default function (component) {
  const { parentElement } = component;
  if (!pads.has(parentElement)) pads.set(parentElement, new Pad(parentElement));
  pads.get(parentElement).update(component);
  return () => {
    pads.get(parentElement)?.remove();
    pads.delete(parentElement);
  };
}
