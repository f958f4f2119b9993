// @ts-check
//! A film at the bench: recorded in pieces of one second, kept here, then sent. It is asked for by a
//! person, has the bench's own sounds and no microphone, and gives way to the presses always: where
//! camera or room are missing the film ends, and says so when nothing burns any more.

import { counter } from "./clock.js";
import { FilmKeeping, NO_ROOM } from "./film_keep.js";
import { lockOf, means, sendFilms } from "./film_out.js";
import { FilmSender } from "./film_send.js";
import { FilmStore } from "./film_store.js";
import { make, write } from "./view.js";

/** @typedef {import("./film_store.js").Film} Film */
/** @typedef {import("./film_store.js").Piece} Piece */
/** @typedef {import("./store.js").Sitting} Kept */
/** @typedef {import("./sound.js").Sound} Sound */

const PIECE_MS = 1_000;
/** A camera shows what it sees by so much later at most: ours, no camera says it. */
const CAMERA_LATE_MS = 100;
/** So much room stays for presses: a film ends before it takes it. */
const ROOM_BYTES = 64e6;
/** The last piece is waited for so long, no longer: nobody waits for a film. */
const END_WITHIN_MS = 1_500;
/** Sounds are waited for so long. */
const SOUND_WITHIN_MS = 500;
/** Whether this device records films: off until a person turns it on. */
const SETTING = "cinderbook-film";
/** Those that encode with least work first: presses come before pictures. */
const FORMS = ["video/webm;codecs=vp8", "video/webm;codecs=vp9", "video/webm", "video/mp4"];

export class BenchFilm {
  constructor() {
    /** Why the film ended by itself. */
    /** @type {string | null} */
    this.why = null;
    this.on = localStorage.getItem(SETTING) === "on";
    /** @type {MediaStream | null} */
    this.stream = null;
    /** @type {Promise<MediaStream> | null} */
    this.looking = null;
    /** @type {MediaRecorder | null} */
    this.recorder = null;
    /** @type {FilmKeeping | null} */
    this.keeping = null;
    this.release = () => {};
    this.words = make("span");
    this.sign = make("span", { class: "sign", "aria-hidden": "true" });
    this.button = make("button", { type: "button" });
    this.button.addEventListener("click", () => void this.#set(!this.on));
    this.preview = make("video", { class: "preview", "aria-label": "What the camera sees" });
    this.preview.muted = true;
    this.preview.playsInline = true;
    this.line = make("li", { class: "film" }, this.sign, this.words,
      make("span", { class: "choices" }, this.button));
    this.#show("");
    if (this.on) void this.#set(true);
  }

  /** @param {boolean} on */
  async #set(on) {
    this.on = on;
    localStorage.setItem(SETTING, on ? "on" : "off");
    if (!on) this.#letGo();
    else if (this.stream === null && this.recorder === null) {
      const why = await this.#look().then(() => "", (/** @type {Error} */ { message }) => message);
      // It may have been turned off, or begun, meanwhile.
      if (!this.on || why !== "") this.#letGo();
      if (why !== "") this.on = false;
      return this.#show(why);
    }
    this.#show("");
  }

  /** @param {string} why Why there is no camera. */
  #show(why) {
    const words = why === ""
      ? this.on ? "Film: recorded from the beginning, with the sounds of the bench alone" : "No film"
      : `No film: ${why}. Add a phone's film afterwards`;
    this.line.className = why === "" ? "done" : "missing";
    write(this.sign, why === "" ? "✓" : "◆");
    write(this.words, words);
    write(this.button, this.on ? "No film" : "Record a film");
    if (this.on && this.stream !== null && this.recorder === null) {
      this.preview.srcObject = this.stream;
      this.line.append(this.preview);
      void this.preview.play().catch(() => undefined);
    } else {
      this.preview.srcObject = null;
      this.preview.remove();
    }
  }

  /** The camera's pictures; asked for once. */
  #look() {
    this.looking ??= camera().then((stream) => {
      this.stream = stream;
      return stream;
    });
    return this.looking;
  }

  #letGo() {
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    this.stream = null;
    this.looking = null;
  }

  /**
   * Begins to record, where a person turned it on. Nothing waits for this.
   * @param {Kept} kept
   * @param {Sound} sound
   */
  async begin(kept, sound) {
    void sendFilms().catch(() => undefined);
    if (!this.on || this.recorder !== null) return;
    try {
      const stream = await this.#look();
      const late = new Promise((resolve) => setTimeout(resolve, SOUND_WITHIN_MS));
      await Promise.race([sound.wake(), late]);
      await this.#record(kept, stream, sound.track());
    } catch (cause) {
      this.#stop(/** @type {Error} */ (cause).message);
    }
  }

  /**
   * @param {Kept} kept
   * @param {MediaStream} stream
   * @param {MediaStreamTrack | null} heard
   */
  async #record(kept, stream, heard) {
    const store = await FilmStore.open().catch(() => {
      throw new Error(NO_ROOM);
    });
    const sender = new FilmSender(store, means);
    const tracks = [...stream.getVideoTracks(), ...(heard === null ? [] : [heard])];
    const mimeType = FORMS.find((form) => MediaRecorder.isTypeSupported(form));
    // A picture of its own each second: a film that breaks off can be shown up to there.
    const options = { mimeType, videoBitsPerSecond: 2_500_000, videoKeyFrameIntervalDuration: PIECE_MS };
    const recorder = new MediaRecorder(new MediaStream(tracks), options);
    this.recorder = recorder;
    this.#show("");
    const begun = new Promise((resolve) => recorder.addEventListener("start", resolve, { once: true }));
    const asked_ms = counter();
    const keeping = new FilmKeeping(store, {
      room: roomFor,
      sha256,
      send: (film) => sender.send(film),
      ended: (why) => this.#stop(why),
    });
    this.keeping = keeping;
    recorder.addEventListener("dataavailable", ({ data }) => void keeping.piece(data));
    recorder.addEventListener("error", () => keeping.end("the browser ended it"));
    stream.getVideoTracks()[0]?.addEventListener("ended", () => keeping.end("the camera is gone"));
    void keeping.begin(async () => {
      await begun;
      const came_ms = counter();
      const began_us = Math.round(((asked_ms + came_ms) / 2 - kept.began_ms) * 1000);
      const { plan, specimen, device, sitting } = kept;
      const within_us = Math.ceil(((came_ms - asked_ms) / 2 + CAMERA_LATE_MS) * 1000);
      const media = (recorder.mimeType || mimeType || "video/webm").split(";")[0] ?? "";
      const film = { film: `${sitting}-${began_us}`, plan, specimen, device, sitting, within_us, media,
        pieces: 0, sent: 0, ended: false };
      await this.#hold(film);
      return film;
    });
    recorder.start(PIECE_MS);
  }

  /** While this page records a film no other page takes it for ended. */
  /** @param {Film} film */
  #hold(film) {
    return new Promise((resolve) => {
      void navigator.locks.request(lockOf(film), () => {
        resolve(undefined);
        return new Promise((release) => {
          this.release = () => release(undefined);
        });
      });
    });
  }

  /** The film ended by itself; presses go on. */
  /** @param {string} why */
  #stop(why) {
    if (this.why !== null) return;
    this.why = why;
    if (this.recorder?.state === "recording") this.recorder.stop();
    this.#letGo();
    void (this.keeping?.kept ?? Promise.resolve()).then(() => this.release());
  }

  /** Ends the film, as the specimen is left. */
  async end() {
    const { recorder } = this;
    if (recorder === null) return;
    const late = new Promise((resolve) => setTimeout(resolve, END_WITHIN_MS));
    if (recorder.state === "recording") {
      const last = new Promise((resolve) => recorder.addEventListener("stop", resolve, { once: true }));
      recorder.stop();
      await Promise.race([last, late]);
    }
    await Promise.race([this.keeping?.kept, late]);
    this.#letGo();
    this.release();
  }
}

async function camera() {
  if (!navigator.mediaDevices || !("MediaRecorder" in globalThis) || !navigator.locks) {
    throw new Error("film needs a secure page");
  }
  const video = { facingMode: "environment", width: { ideal: 1280 }, height: { ideal: 720 } };
  return navigator.mediaDevices.getUserMedia({ video });
}

/** Whether a piece leaves enough room for the presses. */
/** @param {number} bytes */
async function roomFor(bytes) {
  const { quota = Infinity, usage = 0 } = (await navigator.storage?.estimate?.()) ?? {};
  return quota - usage - bytes > ROOM_BYTES;
}

/** @param {ArrayBuffer} bytes */
async function sha256(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
}
