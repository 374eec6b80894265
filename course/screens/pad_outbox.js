// Taps on their way to the server.
// A tap is put in the browser's own storage before anything is sent, and taken out only when the server names its id.
// One key for each tap: two pads, tabs or students never overwrite each other, and all are sent whichever is open.

const OUT = "course.out.";
const REFUSED = "course.refused.";
const BEGINNINGS = ["attempt_opened/1", "sheet_started/1"];
const PAUSES_MS = [400, 800, 1600, 3000, 5000];
const PULSE_MS = 2500; // how long another tablet's mark may take until it is seen here
const MOST_ITEMS = 100;

let lastMs = 0;
let counter = 0;

/** A new UUID version 7 (RFC 9562): its text sorts in the order of tapping, also when the tablet's clock is set back. */
function newId(nowMs) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  if (nowMs > lastMs) {
    lastMs = nowMs;
    counter = ((bytes[6] & 0x03) << 8) | bytes[7]; // room above for taps within one millisecond
  } else if (++counter > 0xfff) {
    lastMs += 1;
    counter = 0;
  }
  for (let place = 0; place < 6; place++) bytes[place] = Math.floor(lastMs / 2 ** (8 * (5 - place))) & 0xff;
  bytes[6] = 0x70 | (counter >> 8);
  bytes[7] = counter & 0xff;
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** Eight letters and digits by which the server tells tablets apart; made once for each browser. */
function tabletId() {
  const made = () => [...crypto.getRandomValues(new Uint8Array(8))].map((byte) => "0123456789ABCDEFGHJKMNPQRSTVWXYZ"[byte % 32]).join("");
  try {
    const known = localStorage.getItem("course.tablet") || made();
    localStorage.setItem("course.tablet", known);
    return known;
  } catch { return made(); }
}

class Outbox {
  constructor() {
    this.tablet = tabletId();
    this.centre = "";
    this.observer = "";
    this.watched = () => []; // attempts on the screen: {attempt, sheet, observer, version}
    this.newStates = () => {}; // is given what stands otherwise on the server now
    this.entries = new Map(); // id -> {item, said}
    this.refusals = new Map(); // id -> {item, said, sentence}
    this.saved = []; // items that the server has, until the page's data holds them too
    this.listeners = new Set();
    this.trouble = null; // null | {kind: "away" | "sign-in" | "not-saved", sentence}
    this.keepsNothing = false; // the browser's storage would not take a tap
    this.offsetMs = null;
    this.lastTap = null; // {ms, offsetMs} of the last tap whose offset is known
    this.route = null;
    this.pulseRoute = null;
    this.sending = false;
    this.failures = 0;
    this.most = MOST_ITEMS;
    this.timer = null;
    this.since = null;
    this.read();
    const first = this.waiting().at(-1);
    if (first) lastMs = parseInt(first.item.id.replaceAll("-", "").slice(0, 12), 16);
    window.addEventListener("storage", (event) => {
      if (event.key === null) this.keepAgain(); // site data was cleared: the taps in memory are all there is
      this.read();
      this.tell();
    });
    const again = () => { if (document.visibilityState !== "hidden") this.hurry(); };
    for (const happening of ["online", "pageshow", "focus"]) window.addEventListener(happening, again);
    document.addEventListener("visibilitychange", again);
    setInterval(() => { if (document.visibilityState !== "hidden") this.pulse(); }, PULSE_MS);
  }

  read() {
    const inStorage = new Set();
    try {
      for (const key of Object.keys(localStorage)) {
        const kept = key.startsWith(OUT) ? this.entries : key.startsWith(REFUSED) ? this.refusals : null;
        if (!kept) continue;
        const entry = JSON.parse(localStorage.getItem(key));
        inStorage.add(entry.item.id);
        kept.set(entry.item.id, entry);
      }
    } catch { return; } // unreadable storage: what is in memory stays
    for (const kept of [this.entries, this.refusals])
      for (const [id, entry] of kept) {
        if (inStorage.has(id) && !(kept === this.entries && this.refusals.has(id))) continue;
        if (entry.unkept) continue;
        kept.delete(id); // another tab of this tablet had it settled
        if (kept === this.entries && !this.refusals.has(id)) this.saved.push(entry.item);
      }
    if (this.entries.size) this.since ??= Date.now();
  }

  keepAgain() {
    for (const [prefix, kept] of [[OUT, this.entries], [REFUSED, this.refusals]])
      for (const entry of kept.values())
        try {
          localStorage.setItem(prefix + entry.item.attempt + "." + entry.item.id, JSON.stringify(entry));
        } catch { entry.unkept = true; }
  }

  /** Keep taps and send them as soon as may be, together. `said` is how a person would name one; it holds no name. */
  putAll(taps) {
    for (const { item, said } of taps) {
      const entry = { item, said, centre: this.centre };
      this.keep(entry);
      this.entries.set(item.id, entry);
    }
    this.since ??= Date.now();
    this.tell();
    this.flush();
  }

  keep(entry) {
    try {
      localStorage.setItem(OUT + entry.item.attempt + "." + entry.item.id, JSON.stringify(entry));
    } catch {
      entry.unkept = true;
      this.keepsNothing = true;
    }
  }

  /** Send what was not taken once more: the session was opened again, or the server knows better now. */
  sendAgain() {
    const again = [...this.refusals.values()].sort((a, b) => (a.item.id < b.item.id ? -1 : 1));
    for (const entry of again) this.putAway(entry.item.id);
    this.putAll(again);
  }

  waiting() {
    return [...this.entries.values()].sort((a, b) => (a.item.id < b.item.id ? -1 : 1));
  }

  /** How many taps wait; what goes before a first mark by itself is no tap of anybody's. */
  get count() {
    const taps = [...this.entries.values()].filter((entry) => !BEGINNINGS.includes(entry.item.kind)).length;
    return Math.max(taps, Math.min(this.entries.size, 1));
  }

  /** Items of one sheet that the page's data may not hold yet, in the order of tapping. */
  localItems(attempt, sheet) {
    const waiting = this.waiting().map((entry) => ({ ...entry.item, waiting: true }));
    return [...this.saved, ...waiting]
      .filter((item) => item.attempt === attempt && item.sheet === sheet)
      .sort((a, b) => (a.id < b.id ? -1 : 1));
  }

  /** Forget saved items that the ledger's own answer speaks for now. */
  known(events) {
    const inData = new Set(events);
    this.saved = this.saved.filter((item) => !inData.has(item.id));
  }

  putAway(id) {
    const entry = this.refusals.get(id);
    if (!entry) return;
    this.refusals.delete(id);
    try { localStorage.removeItem(REFUSED + entry.item.attempt + "." + id); } catch { /* nothing was kept */ }
    this.tell();
  }

  remove(entry) {
    this.entries.delete(entry.item.id);
    try { localStorage.removeItem(OUT + entry.item.attempt + "." + entry.item.id); } catch { /* nothing was kept */ }
    if (!this.entries.size) { this.since = null; this.most = MOST_ITEMS; }
  }

  refuse(entry, sentence) {
    const refused = { item: entry.item, said: entry.said, centre: entry.centre, sentence };
    try {
      localStorage.setItem(REFUSED + entry.item.attempt + "." + entry.item.id, JSON.stringify(refused));
    } catch { refused.unkept = true; }
    this.refusals.set(entry.item.id, refused);
    this.remove(entry);
  }

  tell(saved = []) {
    for (const listener of this.listeners) listener(saved);
  }

  hurry() {
    clearTimeout(this.timer);
    this.timer = null;
    this.flush();
    this.pulse();
  }

  async flush() {
    if (this.sending || this.timer || !this.route || !this.entries.size) return;
    this.sending = true;
    let ended = [];
    try {
      await this.learnClock();
      const batch = this.waiting().slice(0, this.most);
      ended = await this.send(batch);
      this.failures = 0;
      this.trouble = null;
    } catch (problem) {
      this.trouble = problem.kind ? problem : { kind: "away", sentence: "The server does not answer." };
      const pause = PAUSES_MS[Math.min(this.failures++, PAUSES_MS.length - 1)];
      this.timer = setTimeout(() => { this.timer = null; this.flush(); }, pause);
    }
    this.sending = false;
    this.tell(ended);
    if (this.entries.size) this.flush();
  }

  /** How far this tablet's clock is off is known before anything is sent: a tap keeps the offset that it was sent with. */
  async learnClock() {
    if (this.offsetMs === null) await this.ask();
    for (const entry of this.entries.values()) {
      if (entry.item.clock_offset_ms !== null) continue;
      entry.item.clock_offset_ms = this.offsetFor(Date.parse(entry.item.tapped_at));
      this.keep(entry);
    }
  }

  /** Post a batch in order; return the items that are saved now. Throws {kind, sentence} where all have to wait. */
  async send(batch) {
    const asked = Date.now();
    const answer = await this.fetch(this.route, 10000, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Course": "pad" },
      body: JSON.stringify({ items: batch.map((entry) => entry.item) }),
    });
    const said = await answer.json().catch(() => null);
    if (answer.ok && said && Array.isArray(said.saved)) return this.settle(batch, said, asked);
    const sentence = said?.sentence || `The server answered ${answer.status}.`;
    if (answer.status === 401 || answer.status === 403) throw { kind: "sign-in", sentence };
    if (![400, 409, 413, 415, 422].includes(answer.status)) throw { kind: answer.ok ? "away" : "not-saved", sentence };
    if (batch.length > 1) { this.most = 1; return []; } // one by one, so that one bad tap holds up no other
    this.refuse(batch[0], sentence);
    return [];
  }

  settle(batch, said, asked) {
    this.clock(said.server_utc, asked);
    const saved = new Set(said.saved);
    const refused = new Map((said.refused || []).map((one) => [one.id, one.sentence]));
    const items = [];
    let settled = 0;
    for (const entry of batch) {
      if (saved.has(entry.item.id)) {
        this.remove(entry);
        items.push(entry.item);
      } else if (refused.has(entry.item.id)) this.refuse(entry, refused.get(entry.item.id));
      else continue;
      settled += 1;
    }
    this.saved.push(...items);
    if (!settled) throw { kind: "not-saved", sentence: "The server answered, but not for these taps." };
    return items;
  }

  async pulse() {
    if (!this.pulseRoute || this.pulsing) return;
    this.pulsing = true;
    try {
      const said = await this.ask();
      if (this.trouble?.kind !== "not-saved" || said.writable) this.trouble = null;
      if (said.writable === false) this.trouble = { kind: "not-saved", sentence: "The folder takes no data at the moment." };
      if (said.states?.length) this.newStates(said.states);
    } catch (problem) {
      if (!this.entries.size) this.trouble = problem.kind ? problem : { kind: "away", sentence: "The server does not answer." };
    }
    this.pulsing = false;
    this.tell();
  }

  /** Ask the server for its time and for what is new, and tell it what waits here. Throws {kind, sentence}. */
  async ask() {
    const asked = Date.now();
    const query = new URLSearchParams({
      tablet: this.tablet, waiting: this.count, refused: this.refusals.size, by: this.observer, offset: this.offsetMs ?? "",
    });
    for (const { attempt, sheet, observer, version } of this.watched()) query.append("of", [attempt, sheet, observer, version].join("."));
    const answer = await this.fetch(`${this.pulseRoute}?${query}`, 5000, { headers: { "X-Course": "pad" } });
    const said = await answer.json();
    if (!answer.ok) throw { kind: answer.status === 401 || answer.status === 403 ? "sign-in" : "away", sentence: said.sentence };
    this.clock(said.server_utc, asked);
    return said;
  }

  clock(serverUtc, asked) {
    const server = Date.parse((serverUtc || "").replace(/(\.\d{3})\d+Z$/, "$1Z"));
    if (Number.isNaN(server)) return;
    const [least, most] = [server - Date.now(), server - asked];
    // an answer that does not speak against what is known changes nothing: a slow one says little
    this.offsetMs = Math.round(this.offsetMs === null ? (least + most) / 2 : Math.min(Math.max(this.offsetMs, least), most));
  }

  /** The offset for a tap: never one that would put it before the tap that was made before it. */
  offsetFor(tappedMs) {
    const before = this.lastTap;
    if (this.offsetMs === null) return null;
    const turned = before && tappedMs >= before.ms && tappedMs + this.offsetMs <= before.ms + before.offsetMs;
    this.lastTap = { ms: tappedMs, offsetMs: turned ? before.offsetMs : this.offsetMs };
    return this.lastTap.offsetMs;
  }

  async fetch(route, limitMs, options) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), limitMs);
    try {
      return await fetch(route, { cache: "no-store", credentials: "same-origin", redirect: "error", signal: stop.signal, ...options });
    } finally {
      clearTimeout(timer);
    }
  }
}

/** How far a tablet's clock is off, in words, or "" where it is right enough. */
function clockWords(offsetMs) {
  const minutes = Math.round(Math.abs(offsetMs ?? 0) / 60000);
  if (minutes < 2) return "";
  const far = minutes < 120 ? `${minutes} min` : `${Math.round(minutes / 60)} h`;
  return `this tablet's clock is ${far} ${offsetMs > 0 ? "behind" : "ahead"}; times are put right`;
}

/** Offer items as a file, so that no tap is lost with the tablet. The Mark page of the same centre takes it in. */
function saveAsFile(entries, centre, tablet) {
  const own = entries.filter((entry) => !entry.centre || entry.centre === centre);
  const items = own.map((entry) => entry.item);
  const content = { form: "course waiting taps/1", centre, tablet, saved_at: new Date(Date.now()).toISOString(), count: items.length, items };
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([JSON.stringify(content, null, 1)], { type: "application/json" }));
  link.download = `waiting-taps-${content.saved_at.slice(0, 19).replaceAll(":", "")}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}
