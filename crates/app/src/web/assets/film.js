// @ts-check
//! On a specimen's page: the second that a film is looked at is taken with one button, and told on
//! the scale of the presses.

/** One step of a player: a frame of most phones. */
const STEP_S = 1 / 30;

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

/** @param {HTMLElement} figure */
function furnish(figure) {
  const film = figure.querySelector("video");
  const field = figure.querySelector("input");
  if (film === null || field === null) return;
  const line = document.createElement("p");
  const tell = () => {
    line.textContent = told(film.currentTime, figure.dataset.beginsSeconds);
  };
  const step = (/** @type {number} */ by) => {
    film.pause();
    film.currentTime = Math.max(0, film.currentTime + by);
  };
  for (const kind of ["timeupdate", "seeked"]) film.addEventListener(kind, tell);
  film.addEventListener("loadedmetadata", () => {
    // A film recorded in a browser does not say how long it is until its end was looked for.
    if (film.duration !== Infinity) return;
    film.addEventListener("durationchange", () => { film.currentTime = 0; }, { once: true });
    film.currentTime = 1e9;
  }, { once: true });
  const row = document.createElement("p");
  row.className = "steps";
  row.append(
    button("Frame back", () => step(-STEP_S)),
    button("Frame on", () => step(STEP_S)),
    button("Here the flame is removed", () => {
      field.value = film.currentTime.toFixed(2);
      field.focus();
    }),
  );
  film.after(line, row);
  tell();
}

for (const figure of document.querySelectorAll("figure.film")) {
  furnish(/** @type {HTMLElement} */ (figure));
}
