// @ts-check
//! On a specimen's page: the second that a film is looked at is taken with one button, and told on
//! the scale of the presses; by the bench's tones in its sound that second is proposed.

import { listen } from "./film_listen.js";

/** @typedef {import("./film_tones.js").Found} Found */
/** @typedef {import("./film_tones.js").Tone} Tone */

/** One step of a player where the film does not say how long a frame of it lasts: most phones'. */
const STEP_S = 1 / 30;
/** Another place that has so much of what speaks for the first is nearly as likely. */
const NEARLY = 0.8;

/**
 * @param {string} words
 * @param {() => void} act
 */
function button(words, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "second";
  made.textContent = words;
  made.addEventListener("click", act);
  return made;
}

/**
 * @param {string} className
 * @param {...HTMLElement} inside
 */
function row(className, ...inside) {
  const made = document.createElement("p");
  made.className = className;
  made.append(...inside);
  return made;
}

/**
 * Where the player stands, in words.
 * @param {number} film_s
 * @param {string | undefined} begins_s
 */
function told(film_s, begins_s) {
  const own = `At ${film_s.toFixed(2)} s of the film`;
  if (begins_s === undefined) return own;
  const at_s = film_s + Number(begins_s);
  return `${own}, ${Math.abs(at_s).toFixed(2)} s ${at_s < 0 ? "before" : "after"} the first flame`;
}

/** A film on the page: its player, and the form that keeps its place. */
class Film {
  /**
   * @param {HTMLElement} figure
   * @param {HTMLVideoElement} player
   * @param {HTMLInputElement} field
   */
  constructor(figure, player, field) {
    this.figure = figure;
    this.player = player;
    this.field = field;
    const { frameSeconds } = figure.dataset;
    this.frame_s = frameSeconds === undefined ? STEP_S : Number(frameSeconds);
    this.line = row("");
    const steps = row("steps",
      button("Frame back", () => this.#step(-this.frame_s)),
      button("Frame on", () => this.#step(this.frame_s)),
      button("Here the flame is removed", () => this.#set(player.currentTime)));
    for (const kind of ["timeupdate", "seeked"]) player.addEventListener(kind, () => this.#tell());
    player.addEventListener("loadedmetadata", () => this.#measure(), { once: true });
    player.after(this.line, steps);
    const tones = this.#tones();
    if (tones.length > 0) steps.after(new Proposal(this, tones).element);
    this.#tell();
  }

  #tell() {
    this.line.textContent = told(this.player.currentTime, this.figure.dataset.beginsSeconds);
  }

  /** @param {number} by_s */
  #step(by_s) {
    this.show(this.player.currentTime + by_s);
  }

  /** @param {number} film_s */
  show(film_s) {
    this.player.pause();
    this.player.currentTime = Math.max(0, film_s);
  }

  /** @param {number} film_s */
  #set(film_s) {
    this.field.value = film_s.toFixed(2);
    this.field.focus();
  }

  /** A film recorded in a browser does not say how long it is until its end was looked for. */
  #measure() {
    const { player } = this;
    if (player.duration !== Infinity) return;
    player.addEventListener("durationchange", () => { player.currentTime = 0; }, { once: true });
    player.currentTime = 1e9;
  }

  /** What the bench gave. */
  /** @returns {Tone[]} */
  #tones() {
    const said = this.figure.dataset.tones?.split(" ") ?? [];
    return said.flatMap((words) => {
      const [name, at_s] = words.split(":");
      return name === "flame-on" || name === "flame-removed" ? [{ name, at_s: Number(at_s) }] : [];
    });
  }

  /** How long it is, in seconds. */
  get lasts_s() {
    const { seconds } = this.figure.dataset;
    return seconds === undefined ? this.player.duration : Number(seconds);
  }
}

/** Where a film lies by its sound: asked for, shown, and taken or nudged by a person. */
class Proposal {
  /**
   * @param {Film} film
   * @param {readonly Tone[]} tones
   */
  constructor(film, tones) {
    this.film = film;
    this.tones = tones;
    this.removed_s = 0;
    this.nudged = 0;
    this.line = row("proposal");
    this.line.role = "status";
    this.choices = row("steps");
    this.ask = button("Listen for the bench's tones", () => void this.#listen());
    /** @type {HTMLButtonElement | null} */
    this.take = null;
    this.choices.append(this.ask);
    this.element = document.createElement("div");
    this.element.append(this.line, this.choices);
  }

  async #listen() {
    const { film, tones } = this;
    const { src } = film.player;
    const { bytes, soundBeginsSeconds = 0 } = film.figure.dataset;
    this.ask.disabled = true;
    this.line.textContent = "Listening …";
    const sound_begins_s = Number(soundBeginsSeconds);
    const known = { address: src, bytes: Number(bytes), lasts_s: film.lasts_s, sound_begins_s, tones };
    const found = await listen(known);
    this.ask.disabled = false;
    if (typeof found === "string") this.line.textContent = found;
    else this.#propose(found);
  }

  /** @param {Found} found */
  #propose(found) {
    const { film, tones } = this;
    const removed = Number(film.figure.dataset.removedSeconds ?? tones.at(-1)?.at_s);
    // To the hundredth, as all of this page.
    this.removed_s = Math.round((removed - found.begins_s) * 100) / 100;
    this.nudged = 0;
    if (this.removed_s < 0 || this.removed_s > film.lasts_s) {
      this.line.textContent = "By the bench's tones in its sound the flame is removed "
        + `${this.removed_s < 0 ? "before the film begins" : "after the film ends"}.`;
      return;
    }
    this.#keep(found);
    film.show(this.removed_s);
    const frame = film.figure.dataset.frameSeconds === undefined
      ? "1/30 s is taken for a frame: the film does not say how long one lasts."
      : `A frame of this film lasts ${film.frame_s.toFixed(3)} s on average.`;
    this.line.textContent = `${proposed(this.removed_s, found)} ${frame}`;
    this.take = button("Take the proposal", () => this.#take());
    this.choices.replaceChildren(this.take,
      button("One frame earlier", () => this.#nudge(-1)),
      button("One frame later", () => this.#nudge(1)));
    this.take.focus();
  }

  /** The proposal goes with the place that is kept, whichever that is. */
  /** @param {Found} found */
  #keep(found) {
    const { form } = this.film.field;
    const known = form?.querySelector("input[name=heard]");
    const heard = /** @type {HTMLInputElement} */ (known ?? document.createElement("input"));
    heard.type = "hidden";
    heard.name = "heard";
    const { heard: tones, of, likeness, best, second, apart_s } = found;
    heard.value = JSON.stringify({ removed: this.removed_s.toFixed(2), tones, of, likeness, best, second, apart_s });
    form?.append(heard);
  }

  /** Where the flame is removed in the film, as it is nudged now. */
  get #at_s() {
    return Math.max(0, this.removed_s + this.nudged * this.film.frame_s);
  }

  #take() {
    const { field } = this.film;
    field.value = this.#at_s.toFixed(2);
    field.form?.requestSubmit();
  }

  /** @param {number} frames */
  #nudge(frames) {
    this.nudged += frames;
    this.film.field.value = this.#at_s.toFixed(2);
    this.film.show(this.#at_s);
    const by = Math.abs(this.nudged);
    const nudged = `Take it ${by} ${by === 1 ? "frame" : "frames"} ${this.nudged < 0 ? "earlier" : "later"}`;
    if (this.take) this.take.textContent = by === 0 ? "Take the proposal" : nudged;
  }
}

/**
 * A proposal in words, with how sure it is.
 * @param {number} removed_s
 * @param {Found} found
 */
function proposed(removed_s, { heard, of, likeness, best, second, apart_s }) {
  const fits = apart_s === null
    ? `Only one of ${of} tones was heard: no distance speaks for it.`
    : `${heard} of ${of} tones were heard; their distances fit the presses within ${apart_s.toFixed(3)} s.`;
  const doubt = second > NEARLY * best
    ? "Another place is nearly as likely: look at the film before you take it. "
    : "";
  return `Proposal by the bench's tones in its sound: the flame is removed at ${removed_s.toFixed(2)} s. `
    + `${fits} ${doubt}They are ${percent(likeness)} alike; ${percent(best)} speaks for this place, `
    + `${percent(second)} for the next best. A tone comes after its press by what the loudspeaker `
    + "takes: that is not taken off.";
}

/** @param {number} share */
function percent(share) {
  return `${Math.round(share * 100)} %`;
}

for (const figure of document.querySelectorAll("figure.film")) {
  const [player, field] = [figure.querySelector("video"), figure.querySelector("input")];
  if (player !== null && field !== null) new Film(/** @type {HTMLElement} */ (figure), player, field);
}
