// The copy of one sheet before it is saved: kept in the browser's own storage with every key, so that neither a reload
// nor a dead server loses a mark. One key for each sheet; it is taken out only when the server has said "saved".

const DRAFT = "course.slate.";
const MOST_UNDO = 300;

/** A new UUID version 7 (RFC 9562), made where the person acts: sending a copy twice saves it once. */
function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  const nowMs = Date.now();
  for (let place = 0; place < 6; place++) bytes[place] = Math.floor(nowMs / 2 ** (8 * (5 - place))) & 0xff;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** A plain decimal number as the ledger writes it, or null; a comma is read as the decimal point. */
function decimal(text) {
  const plain = text.trim().replace(",", ".");
  return /^-?\d{1,12}(\.\d{1,6})?$/.test(plain) ? plain : null;
}

function emptyColumn() {
  return { id: newId(), marks: {}, values: {}, notes: {}, whole_clean: false, how: "completed", stopped_by: null, reason: "", second: "", leave: false };
}

/** Who wrote the sheet of the same session that was saved before this one, in this tab; shown, and said on Save. */
function whoWroteLast(data) {
  try {
    const last = sessionStorage.getItem(DRAFT + data.session);
    return data.observers.some((person) => person.id === last) ? last : "";
  } catch { return ""; }
}

function rememberWhoWrote(data, observer) {
  try { sessionStorage.setItem(DRAFT + data.session, observer); } catch { /* it is chosen again */ }
}

class Draft {
  constructor(data) {
    this.data = data;
    this.key = DRAFT + data.slate;
    this.past = [];
    this.keepsNothing = false;
    this.observer = data.observer || whoWroteLast(data);
    this.seen = { start: data.start, end: data.end, start_second: null, end_second: null };
    this.columns = {};
    this.read();
  }

  read() {
    let kept = null;
    try { kept = JSON.parse(localStorage.getItem(this.key)); } catch { return false; }
    if (!kept || kept.form !== 1) return false;
    Object.assign(this, { observer: kept.observer, seen: kept.seen, columns: kept.columns });
    return true;
  }

  keep() {
    const content = { form: 1, observer: this.observer, seen: this.seen, columns: this.columns };
    try { localStorage.setItem(this.key, JSON.stringify(content)); this.keepsNothing = false; } catch { this.keepsNothing = true; }
  }

  forget() {
    this.columns = {};
    this.past = [];
    try { localStorage.removeItem(this.key); } catch { /* nothing was kept */ }
  }

  name(column) { return `${column.student}|${column.attempt_try}`; }

  /** What stands in a column: what is typed here, else what the ledger has of it, else nothing. */
  column(column) {
    return this.columns[this.name(column)] || { ...emptyColumn(), ...(column.saved ? structuredClone(column.saved) : {}) };
  }

  /** Whether a column stands as it is in the ledger, and nothing else was typed for it here. */
  isSaved(column) { return Boolean(column.saved) && !this.columns[this.name(column)]; }

  /** Change one column; what stood before can be had back by one undo. `said` is how a person would name the change. */
  change(place, said, act) {
    const column = this.data.columns[place];
    this.past.push({ place, said, name: this.name(column), before: JSON.stringify(this.columns[this.name(column)] ?? null) });
    if (this.past.length > MOST_UNDO) this.past.shift();
    const now = this.columns[this.name(column)] ??= this.column(column); // a change of what is saved begins with all of it
    act(now);
    this.keep();
  }

  undo() {
    const last = this.past.pop();
    if (!last) return null;
    const before = JSON.parse(last.before);
    if (before) this.columns[last.name] = before; else delete this.columns[last.name];
    this.keep();
    return last;
  }

  isWritten(place) {
    if (this.isSaved(this.data.columns[place])) return false;
    const now = this.column(this.data.columns[place]);
    return Object.keys(now.marks).length + Object.keys(now.values).length > 0 || now.whole_clean || now.how !== "completed";
  }

  /** Filled by "whole attempt clean": never where something critical can happen. */
  isFilled(place, row) {
    const column = this.data.columns[place];
    const now = this.column(column);
    return now.whole_clean && !row.own_box && !column.not_here.includes(row.step) && !now.marks[row.step];
  }

  /** Whether a box still waits for a stroke. One that is filled and has a value to write down waits for the value. */
  isOpen(place, row) {
    const column = this.data.columns[place];
    if (column.not_here.includes(row.step) || this.isSaved(column)) return false;
    const now = this.column(column);
    if (now.how !== "completed" || now.marks[row.step]) return false;
    return this.isFilled(place, row) ? Boolean(row.limit) && now.values[row.step] === undefined : true;
  }

  get unsaved() {
    return Object.values(this.columns).reduce((sum, now) => sum + Object.keys(now.marks).length + Object.keys(now.values).length + (now.whole_clean ? 1 : 0) + (now.how !== "completed" ? 1 : 0), 0);
  }

  /** The whole copy as the server reads it. */
  copy() {
    const { data, seen } = this;
    const own = seen.start === data.start && seen.end === data.end && seen.start_second === null && seen.end_second === null;
    const columns = [];
    data.columns.forEach((column, place) => {
      if (!this.isWritten(place)) return;
      const now = this.column(column);
      columns.push({
        id: now.id, student: column.student, attempt_try: column.attempt_try,
        marks: data.rows.filter((row) => now.marks[row.step]).map((row) => ({ step: row.step, ...now.marks[row.step] })),
        values: now.values, whole_clean: now.whole_clean, notes: now.notes, how: now.how, stopped_by: now.stopped_by,
        reason: now.reason || null, second: now.second || null, leave: now.leave,
      });
    });
    return { slate: data.slate, session: data.session, observer: this.observer, seen: own ? null : seen, columns };
  }
}
