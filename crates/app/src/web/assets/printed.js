// @ts-check
//! What stands on each sheet of a printed page: where from, when it was read, and by whom.

const person = document.querySelector(".bar .person")?.textContent ?? "";
const read = `read ${new Date().toISOString().slice(0, 16).replace("T", " ")} UTC`;
const words = [location.href, read, person].filter((part) => part !== "").join(" · ");
// A text of style sheets is written as one of JSON is.
document.documentElement.style.setProperty("--printed", JSON.stringify(words));
