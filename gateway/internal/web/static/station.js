// Small conveniences. Every page works without them.
"use strict";

document.documentElement.classList.add("script");

// A scanner ends each code with Enter. In a form with fields still empty that means "next field", not "send".
document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (event.key !== "Enter" || field.tagName !== "INPUT" || !field.form || field.type === "checkbox") return;
  const fields = Array.from(field.form.elements).filter((e) => e.tagName === "INPUT" && !["hidden", "radio", "checkbox"].includes(e.type));
  const next = fields.slice(fields.indexOf(field) + 1).find((e) => e.required && e.value === "");
  if (next) {
    event.preventDefault();
    next.focus();
  }
});

// The button says that it was heard. The request_id in the form makes a second press harmless anyway.
document.addEventListener("submit", (event) => {
  const button = event.target.querySelector("button[type=submit]");
  if (!button || event.target.method === "get") return;
  if (event.target.dataset.sent) {
    event.preventDefault();
    return;
  }
  event.target.dataset.sent = "yes";
  button.classList.add("busy");
});

// A page taken out of the browser's back memory may be sent again.
window.addEventListener("pageshow", () => {
  for (const form of document.forms) {
    delete form.dataset.sent;
    for (const button of form.querySelectorAll(".busy")) button.classList.remove("busy");
  }
});

for (const button of document.querySelectorAll("[data-print]")) button.addEventListener("click", () => window.print());

// Codes and tags are written in capitals; the wedge of some scanners sends small letters.
for (const field of document.querySelectorAll("[data-scan]")) field.addEventListener("change", () => {
  if (!field.list) field.value = field.value.toUpperCase().trim();
});
