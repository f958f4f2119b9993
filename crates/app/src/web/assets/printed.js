// @ts-check
//! What stands on the sheets of a printed page: where from, when it was read, and by whom.

const person = document.querySelector(".bar .person")?.textContent ?? "";
const read = `read ${new Date().toISOString().slice(0, 16).replace("T", " ")} UTC`;
const line = document.createElement("p");
line.className = "printed";
line.textContent = [location.href, read, person].filter((part) => part !== "").join(" · ");
document.body.append(line);
