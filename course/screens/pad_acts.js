// What a tap does to a sheet: each act becomes an item with its own id and with attempt, sheet and student as they stand
// on the screen. Painting and listening are in step_pad.js, which builds on this.

class Acts {
  put(kind, body, said) {
    const make = (pad, ofKind, content, words) => {
      const now = Date.now();
      const item = {
        id: newId(now), attempt: pad.attempt, student: pad.student.id, sheet: pad.sheet, kind: ofKind, body: content,
        tapped_at: new Date(now).toISOString(), clock_offset_ms: outbox.offsetFor(now),
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
    if (this.asksFirst(step, mark)) return undefined;
    return this.give(step, { mark, errors: [], prompted: false, fixed_self: false });
  }

  /** A critical error is not taken away by one slip: the same mark is asked for once more, and not within a double tap. */
  asksFirst(step, mark) {
    const { number, errors } = this.data.steps.find((one) => one.id === step);
    const critical = errors.find((error) => error.critical && this.errorsOf(step).includes(error.id));
    const now = Date.now();
    const [was, since] = this.sure || [];
    this.sure = [`${step}|${mark}`, now];
    if (!critical || (was === this.sure[0] && now - since > 400 && now - since < 10000)) return false;
    const word = { done: "done", not_seen: "not seen", left_out: "left out", prompted: "prompted" }[mark];
    this.say(`Step ${number} holds the critical error ${critical.letter}: tap ${word} once more to take it away.`);
    return true;
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

  /** A plain yes or no stays in the form that every laptop reads; that it was put right goes in the newer one. */
  answerOrder(seenSo, fixedSelf = false) {
    const { late, firsts } = this.asked.question;
    this.asked = null;
    for (const first of firsts) {
      const answer = { first_done: first, should_come_first: late, seen_so: seenSo, replaces: [], ...(fixedSelf ? { fixed_self: true } : {}) };
      this.put(ORDER_KINDS[fixedSelf ? 1 : 0], answer, orderName(this.data, answer));
    }
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
    const tapped = this.state.values.has(id) ? null : this.tapOf(step);
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
}
