// @ts-check
//! The bench: what is pressed at the flame, wired to what is kept, shown, heard and sent.

import { Before, keyList } from "./before.js";
import { acrossRestart, counter, off, ranOn, read, stamp, watch as watchClocks } from "./clock.js";
import * as device from "./device.js";
import { face, marks } from "./face.js";
import { BenchFilm } from "./film.js";
import { saysOfFilm } from "./film_keep.js";
import { keepForReload, nothingOpen, serve } from "./offline.js";
import { meant, watchPads } from "./keys.js";
import { USUAL, given as givenBy } from "./settings.js";
import { Sitting, sendOthers } from "./sitting.js";
import { DOUBT_EVERY_MS, LOUDSPEAKER_LATE_S, Sound, ahead, answerTo } from "./sound.js";
import { TOO_SOON_US, asks, mainAct, replay } from "./state.js";
import { Store } from "./store.js";
import { alone, elsewhere } from "./tab.js";
import { View, ask, write } from "./view.js";
import { held, onOwnClock, takeOver, watch } from "./watching.js";

/** @typedef {import("./state.js").Input} Input */
/** @typedef {import("./state.js").Press} Press */
/** @typedef {import("./settings.js").Habits} Habits */
/** @typedef {import("./store.js").Sitting} Kept */

/** How often the number is looked at; it changes once a second. */
const LOOK_EVERY_MS = 50;
/** How often it is noted that the page is alive. */
const ALIVE_EVERY_MS = 1_000;
/** A page that was alive so recently, in the same tab, was reloaded and not restarted. */
const RELOADED_WITHIN_MS = 10_000;
/** How long a line about a single press stays. */
const LINE_STAYS_MS = 3_000;
/** The way on from what is finished is open from this long after the last press. */
const ONWARD_OPENS_US = 1_000_000;
const NOT_KEPT = "▲ Presses cannot be kept on this device: write the times by hand";
const DOUBTFUL = "▲ Time is doubtful: carry on, say so later";

class BenchPage {
  /**
   * @param {HTMLElement} root
   * @param {Store} store
   * @param {Habits} habits
   */
  constructor(root, store, habits) {
    this.root = root;
    this.store = store;
    this.habits = habits;
    this.given = givenBy(root.dataset);
    this.sound = new Sound(habits.volume);
    /** @type {Sitting | null} */
    this.sitting = null;
    this.beginning = false;
    this.opened_ms = 0;
    /** A sitting that was opened and not used yet. */
    /** @type {Kept | null} */
    this.unused = null;
    /** What another device has timed, while this one watches. */
    /** @type {import("./watching.js").Held | null} */
    this.watched = null;
    /** @type {import("./clock.js").Offset | null} */
    this.offset = null;
    this.keeps = true;
    this.leaving = false;
    this.lineUntil = 0;
    this.film = new BenchFilm();
    this.before = new Before(root, this.given, habits, {
      film: this.film.line,
      begin: () => void this.#begin(),
      ticks: () => this.sound.ticks(counter()),
      setHabits: (changed) => void this.#setHabits(changed),
    });
    this.view = new View(root, this.given, (does, input, event) => this.#do(does, input, event));
    this.view.suit(habits);
    this.screen = new device.ScreenOn((on) => {
      if (!on) this.#say("The screen may go dark; sounds and switch still work", Infinity);
    });
  }

  async open() {
    if (!(await alone(this.given))) return elsewhere(this.root, this.given);
    this.#listen();
    const kept = await this.store.openSitting(this.given.plan, this.given.specimen);
    if (kept !== null) await this.#goOn(kept);
    if (this.sitting === null) {
      this.before.open();
      void this.#lookAtDevice();
    }
    void sendOthers(this.store, kept);
    await this.#askRecord(kept);
  }

  /** Whether another device times this specimen. */
  /** @param {Kept | null} own */
  async #askRecord(own) {
    const record = await held(this.given);
    const other = record?.timekeeper?.sitting;
    if (record === null || other === undefined || other === own?.sitting) return;
    if (this.sitting === null) {
      this.#watch(record);
    } else if (own !== null && own.kept_to > 0) {
      this.#say("▲ Another device times this specimen now: presses here are kept, not counted", Infinity);
    }
  }

  /** @param {import("./watching.js").Held} record */
  #watch(record) {
    this.watched = record;
    this.view.open();
    watch(this.given, record, (shown, state, now) => {
      this.watched = now;
      if (this.sitting === null) this.view.show(shown, state);
      return this.sitting === null;
    });
  }

  /** Takes the specimen over from the device that timed it. */
  async #takeOver() {
    const seen = read();
    const kept = await takeOver(this.root, this.given, this.store, () => this.#newSitting(seen));
    if (kept === null) return;
    if ("trouble" in kept) return this.#say(`Not taken over: ${kept.trouble}`, Infinity);
    const presses = ((await held(this.given)) ?? this.watched)?.presses ?? [];
    kept.inherited = onOwnClock(presses, seen.wall_ms);
    await this.store.note(kept.sitting, { inherited: kept.inherited });
    await this.#start(kept);
  }

  /** @param {import("./clock.js").Reading} seen */
  #newSitting(seen) {
    const { plan, specimen } = this.given;
    return this.store.begin({ plan, specimen, began_ms: seen.counter_ms, seen });
  }

  async #lookAtDevice() {
    this.offset = await device.clockOffset();
    const look = async () => this.before.setDevice(await device.checks(this.offset, this.given.clocks));
    device.onPower(() => void look());
    await look();
  }

  async #begin() {
    if (this.beginning) return;
    this.beginning = true;
    void this.sound.wake();
    await this.#start(this.unused ?? (await this.#newSitting(read())));
  }

  /** @param {Kept} kept */
  async #start(kept) {
    this.#take(kept, await this.store.presses(kept.sitting));
    void this.screen.ask();
    void this.sitting?.note({ offset: this.offset });
    const note = off(read(), this.offset, this.given.clocks);
    if (note !== null) this.#noted(note);
    await this.sound.wake();
    if (this.sound.late_s > LOUDSPEAKER_LATE_S) {
      const late = this.sound.late_s.toFixed(1);
      this.#say(`Loudspeaker is late by ${late} s: use the built-in one`, Infinity);
    }
    void keepForReload();
  }

  /**
   * A sitting that was open when the page went: at once after a reload, else it is offered back.
   * @param {Kept} kept
   */
  async #goOn(kept) {
    const log = await this.store.presses(kept.sitting);
    const gone_ms = counter() - kept.seen.counter_ms;
    const reloaded = sessionStorage.getItem("sitting") === kept.sitting
      && gone_ms >= 0 && gone_ms < RELOADED_WITHIN_MS;
    if (reloaded) {
      this.#take(kept, log);
      void this.screen.ask();
      return;
    }
    const before = replay(this.given.applications, [...kept.inherited, ...log]);
    if (before.seen.state === "ready") {
      this.unused = kept;
      return;
    }
    this.offset = await device.clockOffset(1_000);
    const plus_minus = acrossRestart(kept.offset, this.offset).toFixed(2);
    const last = log.at(-1)?.at_us ?? 0;
    const ago = ((counter() - kept.began_ms) / 1000 - last / 1e6).toFixed(1);
    const question = `Specimen ${kept.specimen} was being timed here, last press ${ago} s ago. `
      + `Times across the gap are ± ${plus_minus} s.`;
    const answer = await ask(this.root, question, ["Carry on here", "Specimen spoilt"]);
    this.#take(kept, log);
    void this.screen.ask();
    const note = `the browser was closed for ${(gone_ms / 1000).toFixed(1)} s: ± ${plus_minus} s`;
    this.#press({ act: "time-doubtful", at_ms: counter(), input: "key", note });
    this.#press({ act: "acknowledged", at_ms: counter(), input: "key" });
    if (answer === 1) this.#press({ act: "specimen-spoilt", at_ms: counter(), input: "key" });
  }

  /**
   * @param {Kept} kept
   * @param {Press[]} log
   */
  #take(kept, log) {
    this.opened_ms = counter();
    sessionStorage.setItem("sitting", kept.sitting);
    this.sitting = new Sitting(this.store, kept, this.given.applications, log, {
      shown: (press) => this.#shown(press),
      keeps: (keeps) => {
        this.keeps = keeps;
      },
      sending: () => this.#sending(),
    });
    this.view.open();
    this.#draw();
    this.#sending();
    this.#plan();
    void this.sitting.send();
    setInterval(() => this.#draw(), LOOK_EVERY_MS);
    setInterval(() => void this.sitting?.note({ seen: read() }), ALIVE_EVERY_MS);
    setInterval(() => this.#soundDoubt(), DOUBT_EVERY_MS);
    void this.film.begin(kept, this.sound);
    watchClocks((found) => void this.#doubt(found));
  }

  /** @param {import("./clock.js").Doubt} found */
  async #doubt(found) {
    const ran = ranOn(found, this.sitting?.kept.offset ?? null, await device.clockOffset(1_000));
    // Where the durations stand there is nothing to do: it is in the record, and no alarm.
    if (ran !== null) return this.#noted(ran);
    this.#press({ act: "time-doubtful", at_ms: counter(), input: "key", note: found.note });
  }

  /**
   * Something about the clocks that goes into the record and needs nobody now.
   * @param {string} note
   */
  #noted(note) {
    this.#press({ act: "time-doubtful", at_ms: counter(), input: "key", note });
    this.#press({ act: "acknowledged", at_ms: counter(), input: "key" });
  }

  #listen() {
    addEventListener("keydown", (event) => this.#key(event), { capture: true });
    for (const kind of ["contextmenu", "wheel"]) {
      addEventListener(kind, (event) => this.sitting && event.preventDefault(), { passive: false });
    }
    addEventListener("pointerdown", (event) => {
      this.view.ring(false);
      if (event.button > 0) this.#nothing(event, "mouse", `button ${event.button} of the mouse`);
    });
    watchPads((button, timeStamp) => this.#pad(button, { timeStamp }));
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (this.root.querySelector("dialog") !== null) return;
    if (this.sitting === null && this.before.teach(event)) return event.preventDefault();
    const state = this.sitting?.decided.seen.state ?? "before";
    const intent = meant(event, state, this.habits);
    this.view.ring(intent === null);
    if (intent === null) return this.#focused(event);
    const always = ["main", "help", "leave"];
    if (this.sitting === null && !always.includes(intent.meant)) return;
    event.preventDefault();
    event.stopPropagation();
    if (event.repeat) return;
    if (intent.meant === "main") this.#main(intent.input, event);
    else if (intent.meant === "leave") void this.#leave();
    else if (intent.meant === "help") void ask(this.root, "Keys", ["Close"], [keyList()]);
    else if (intent.meant === "nothing") this.#nothing(event, intent.input, `key ${event.key}`);
    else this.#do(intent.meant, intent.input, event);
  }

  /** Space and Enter where nothing has the focus: it goes back to the main action, which acts. */
  /** @param {KeyboardEvent} event */
  #focused(event) {
    if (this.sitting === null || (event.key !== " " && event.key !== "Enter")) return;
    if (document.activeElement !== document.body) return;
    event.preventDefault();
    this.view.main.focus({ preventScroll: true });
    if (!event.repeat) this.#main("key", event);
  }

  /**
   * @param {number} button
   * @param {{ timeStamp: number }} event
   */
  #pad(button, event) {
    if (this.sitting === null && this.before.teaching) return this.before.teachSwitch({ button });
    const { taught } = this.habits;
    if (taught !== null && "button" in taught && taught.button === button) this.#main("switch", event);
  }

  /**
   * @param {Input} input
   * @param {{ timeStamp: number }} event
   */
  #main(input, event) {
    if (this.watched !== null && this.sitting === null) return;
    if (this.sitting === null) {
      if (input === "switch") this.before.pressSwitch();
      else this.before.begin();
      return;
    }
    const act = mainAct(this.sitting.decided);
    const at_ms = stamp(event);
    if (act === null) return this.#onward(input, event);
    // The press that opened the bench may bounce.
    const bounces = (at_ms - this.opened_ms) * 1000 < TOO_SOON_US;
    if (bounces) this.#press({ act: "ignored", at_ms, input, note: `${act} came too soon` });
    else this.#press({ act, at_ms, input });
  }

  /**
   * @param {import("./face.js").Does | "mark"} does
   * @param {Input} input
   * @param {{ timeStamp: number }} event
   */
  #do(does, input, event) {
    const { sitting } = this;
    if (does === "take-over") return void this.#takeOver();
    if (sitting === null) {
      if (does === "describe") location.assign(this.given.links.describe);
      if (does === "say-what-happened") location.assign(this.given.links.spoilt);
      return;
    }
    if (does === "describe" || does === "say-what-happened") return this.#onward(input, event);
    if (does === "back-to-checks") return void this.#leave();
    if (does === "begin") return;
    const doubtful = sitting.decided.doubts > 0 && does === "mark";
    const answersNone = does === "no-flame" && asks(sitting.decided);
    const at_ms = stamp(event);
    this.#press({ act: doubtful ? "acknowledged" : does, at_ms, input });
    // One answer says both; the second stands apart by what counts as too soon.
    if (answersNone) setTimeout(() => this.#press({ act: "no-glow", at_ms: at_ms + 310, input }), 310);
  }

  /** @param {import("./sitting.js").Asked} asked */
  #press(asked) {
    void this.sitting?.press(asked);
    if (this.sound.context?.state !== "running") {
      void this.sound.wake().then((on) => on && this.#plan());
    }
  }

  /**
   * @param {{ timeStamp: number }} event
   * @param {Input} input
   * @param {string} what
   */
  #nothing(event, input, what) {
    this.#press({ act: "ignored", at_ms: stamp(event), input, note: what });
  }

  /** A press is kept: now it is shown and heard. */
  /** @param {Press} press */
  #shown(press) {
    const { sitting, sound } = this;
    if (sitting === null) return;
    const { at_us, act } = press;
    switch (act) {
      case "ignored":
        if (press.note?.endsWith("too soon")) {
          sound.now("dull-double", at_us);
          this.#say("Ignored: too soon", LINE_STAYS_MS);
        } else {
          this.#say("This button does nothing here", LINE_STAYS_MS);
        }
        break;
      case "time-doubtful":
        sound.now("low-high-pairs", at_us);
        break;
      case "acknowledged":
        break;
      case "mark":
      case "drop":
      case "burning-drop":
      case "layer-caught":
        sound.now("two-clicks", at_us);
        this.#say(marks(sitting.shown, at_us), LINE_STAYS_MS);
        break;
      default:
        sound.now(answerTo(act, sitting.shown.seen.state), at_us);
        this.#plan();
    }
    this.#draw();
    this.#sending();
  }

  #plan() {
    if (this.sitting === null) return;
    const plan = { ...this.given, soft_ticks: this.habits.soft_ticks };
    this.sound.plan(ahead(this.sitting.shown, plan), this.sitting.kept.began_ms);
  }

  #soundDoubt() {
    if (this.sitting !== null && this.sitting.shown.doubts > 0) {
      this.sound.now("low-high-pairs", this.sitting.at_us(counter()));
    }
  }

  #draw() {
    if (this.sitting === null) return;
    const { shown } = this.sitting;
    const now_us = this.sitting.at_us(counter());
    this.view.show(face(shown, this.given, now_us, asks(shown)), shown.seen.state);
    const alarm = this.keeps ? (shown.doubts > 0 ? DOUBTFUL : "") : NOT_KEPT;
    this.view.showAlarm(alarm, this.keeps ? null : this.sitting.log);
    if (performance.now() > this.lineUntil) write(this.view.line, marks(shown));
    this.view.sayOfFilm(saysOfFilm(this.film.why, shown.seen.state));
  }

  #sending() {
    if (this.sitting === null) return;
    const { trouble, sent, pressed } = this.sitting;
    const line = this.keeps || sent ? this.sitting.line : `Not kept: ${pressed}, not sent yet`;
    write(this.view.kept, `${line.startsWith("All") ? "✓ " : ""}${line}`);
    if (trouble?.words) this.#say(trouble.words, Infinity);
    if (this.leaving && this.sitting.sent) void this.#next();
  }

  /**
   * @param {string} words
   * @param {number} stays_ms
   */
  #say(words, stays_ms) {
    write(this.view.line, words);
    this.lineUntil = performance.now() + stays_ms;
  }

  /**
   * Where nothing is timed any more the main action opens the next page, but not as the second
   * half of a double press.
   * @param {Input} input
   * @param {{ timeStamp: number }} event
   */
  #onward(input, event) {
    const { sitting } = this;
    if (sitting === null) return;
    const since_us = sitting.at_us(stamp(event)) - (sitting.decided.changed_us ?? 0);
    if (since_us >= ONWARD_OPENS_US) void this.#next();
    else this.#press({ act: "ignored", at_ms: stamp(event), input, note: "onward came too soon" });
  }

  /** On to the description, or to what happened, as soon as the record has all presses. */
  async #next() {
    const { sitting } = this;
    if (sitting === null) return;
    const { describe, spoilt } = this.given.links;
    const spoiltNow = sitting.shown.seen.state === "spoilt";
    if (!spoiltNow && sitting.shown.seen.state !== "finished") return;
    this.leaving = true;
    if (!sitting.sent) {
      this.#say("Not sent yet. Sign when the connection is back: the next page opens then", Infinity);
      return;
    }
    await this.#close(sitting, spoiltNow ? spoilt : describe);
  }

  /**
   * @param {Sitting} sitting
   * @param {string} address
   */
  async #close(sitting, address) {
    await this.film.end();
    await sitting.note({ closed: true });
    sessionStorage.removeItem("sitting");
    await nothingOpen();
    location.assign(address);
  }

  async #leave() {
    const answer = await ask(this.root, "Leave the bench?", ["Leave", "Stay"]);
    if (answer === 1) return;
    const { checks, leave } = this.given.links;
    if (this.sitting?.shown.seen.state !== "ready") return location.assign(leave);
    // The sitting stays open and is used again; only the page goes.
    sessionStorage.removeItem("sitting");
    await nothingOpen();
    location.assign(checks);
  }

  /** @param {Habits} habits */
  async #setHabits(habits) {
    this.habits = habits;
    this.sound.volume = habits.volume;
    this.view.suit(habits);
    await this.store.setHabits(habits);
  }
}

const root = /** @type {HTMLElement} */ (document.getElementById("bench"));
const store = await Store.open();
const page = new BenchPage(root, store, await store.habits(USUAL));
// What is heard can be read: what is planned, and what was answered at once.
Object.assign(globalThis, { benchSound: page.sound });
serve();
await page.open();
