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

// What was refused is typed anew, not added to.
document.querySelector("[autofocus][aria-invalid], [role=alert] ~ form [autofocus][data-scan]")?.select?.();

for (const button of document.querySelectorAll("[data-print]")) button.addEventListener("click", () => window.print());

// Codes and tags are written in capitals; the wedge of some scanners sends small letters.
for (const field of document.querySelectorAll("[data-scan]")) field.addEventListener("change", () => {
  if (!field.list) field.value = field.value.toUpperCase().trim();
});

// Each way of measuring has its instrument on this bench. One that was typed stays.
for (const form of document.querySelectorAll("[data-instruments]")) {
  const known = JSON.parse(form.dataset.instruments);
  form.addEventListener("change", (event) => {
    const field = form.elements.instrument;
    if (event.target.name !== "kind" || (field.value && !Object.values(known).includes(field.value))) return;
    field.value = known[event.target.value] ?? "";
    document.getElementById("h-instrument")?.remove();
  });
}

// The fingerprint of a photograph is taken here: the picture itself never leaves the device. Browsers offer it on secure
// pages only; elsewhere the field stays for one taken by other means.
for (const field of document.querySelectorAll("[data-digest]")) {
  if (!crypto.subtle) field.closest(".field").hidden = true;
  field.addEventListener("change", async () => {
    const into = field.form.elements[field.dataset.digest];
    into.value = "";
    if (!field.files.length) return;
    const digest = await crypto.subtle.digest("SHA-256", await field.files[0].arrayBuffer());
    into.value = Array.from(new Uint8Array(digest), (b) => b.toString(16).padStart(2, "0")).join("");
  });
}

// The display of the scale, followed line by line. The weight that is saved is taken by the gateway, never from here.
async function follow(panel) {
  const [weight, word, state] = [".shown-weight", ".shown-word", ".shown-state"].map((part) => panel.querySelector(part));
  const said = JSON.parse(panel.dataset.words);
  const before = Date.parse(panel.dataset.before);
  const show = (seen) => {
    let name = seen.state.replace("INDICATION_STATE_", "");
    const clock = (time) => new Date(time).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    let message = (seen.message ?? "").replace(/[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.]+Z/g, clock);
    if (message) message = message.charAt(0).toUpperCase() + message.slice(1) + ".";
    // Two barrels never share the moment since which the weight stands still.
    if (seen.stable_since_time && Date.parse(seen.stable_since_time) <= before) [name, message] = ["UNMOVED", panel.dataset.unmoved];
    weight.textContent = seen.weight && !["SILENT", "DISCONNECTED"].includes(name) ? `${seen.weight.value} ${seen.weight.unit.toLowerCase()}` : "–";
    word.textContent = said[name] ?? "";
    state.textContent = message;
    panel.classList.toggle("shown-still", name === "STABLE");
    panel.classList.toggle("shown-moving", name !== "STABLE");
  };
  const answer = await fetch(panel.dataset.live, { headers: { Accept: "application/json" } });
  if (!answer.ok) return;
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  for (let rest = ""; ;) {
    const { value, done } = await reader.read();
    if (done) return;
    const lines = (rest + value).split("\n");
    rest = lines.pop();
    for (const line of lines) {
      const piece = line ? JSON.parse(line) : {};
      if (piece.result) show(piece.result);
    }
  }
}

for (const panel of document.querySelectorAll("[data-live]")) (async () => {
  for (;;) {
    try {
      await follow(panel);
    } catch {
      // said below
    }
    // A weight that is no longer followed must not look like one that is.
    for (const [part, text] of [[".shown-weight", "–"], [".shown-word", "No connection"], [".shown-state", "Trying again. If it stays so, type what the display of the scale shows."]]) panel.querySelector(part).textContent = text;
    panel.classList.remove("shown-still");
    panel.classList.add("shown-moving");
    await new Promise((resume) => setTimeout(resume, 2000));
  }
})();
