// @ts-check
//! A clock that stands until the test moves it: for the page's counter, its calendar, the stamps of
//! its events and its intervals. It goes on where it stood when the page is loaded again. The
//! record's clock, as the page asks for it, goes with it; so does the audio clock.

(() => {
  if (!location.origin.startsWith("http")) return;
  const stood = JSON.parse(localStorage.getItem("test-clock") ?? "{}");
  const clock = { at: Math.max(BEGIN, stood.at ?? 0), calendar: stood.calendar ?? 0 };
  const origin = clock.at - 1_000;
  const keep = () => localStorage.setItem("test-clock", JSON.stringify(clock));
  keep();
  performance.now = () => clock.at - origin;
  Object.defineProperty(performance, "timeOrigin", { get: () => origin });
  Object.defineProperty(Event.prototype, "timeStamp", { get: () => clock.at - origin });
  Date.now = () => clock.at + clock.calendar;

  const running = new Map();
  const { setInterval: begin, clearInterval: end, fetch: ask } = globalThis;
  globalThis.setInterval = (act, period, ...more) => {
    const id = begin(act, period, ...more);
    running.set(id, { act, period, due: clock.at + period });
    return id;
  };
  globalThis.clearInterval = (id) => {
    running.delete(id);
    end(id);
  };
  const tell = () => {
    keep();
    for (const one of [...running.values()].filter(({ due }) => due <= clock.at)) {
      one.due = clock.at + one.period;
      one.act();
    }
  };

  const replies = { cut: 0 };
  globalThis.fetch = async (address, options) => {
    if (address === "/api/clock") return new Response(JSON.stringify({ server_us: clock.at * 1000 }));
    // A browser that is told to be without network forgets it while a page is loaded.
    if (options?.method === "POST" && sessionStorage.getItem("no-network") !== null) {
      throw new TypeError("no network");
    }
    const reply = await ask(address, options);
    if (options?.method === "POST" && replies.cut > 0) {
      replies.cut -= 1;
      throw new TypeError("the reply was cut");
    }
    return reply;
  };

  const tones = [];
  AudioContext.prototype.getOutputTimestamp = function () {
    return { contextTime: this.currentTime, performanceTime: performance.now() };
  };
  const { start } = AudioScheduledSourceNode.prototype;
  AudioScheduledSourceNode.prototype.start = function (...when) {
    // The silence that a film has between the tones is none of them.
    if (this instanceof OscillatorNode) {
      tones.push({ in_s: when[0] - this.context.currentTime, hertz: this.frequency.value });
    }
    start.apply(this, when);
  };

  globalThis.test = {
    clock,
    replies,
    tones,
    /** Time goes by, and the page goes on meanwhile. */
    pass(milliseconds) {
      const until = clock.at + milliseconds;
      while (clock.at < until) {
        clock.at = Math.min(until, clock.at + 250);
        tell();
      }
    },
    /** Time goes by, and the page stands still. */
    freeze(milliseconds) {
      clock.at += milliseconds;
      tell();
    },
    /** The calendar alone is put forward. */
    step(milliseconds) {
      clock.calendar += milliseconds;
      clock.at += 250;
      tell();
    },
  };
})();
