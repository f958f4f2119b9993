// @ts-check
//! Says with a form what the clock of this device shows when it is sent, where the form asks for it.

const FIELD = "device_clock";

for (const input of document.querySelectorAll(`input[name=${FIELD}]`)) {
  input.closest("form")?.addEventListener("formdata", ({ formData }) => {
    formData.set(FIELD, new Date().toISOString());
  });
}
