// The dock goes on weighing when the house does not answer: forms are saved on the device first and sent from there.
import { add, entries, newID, put, remove } from "./dock-store.js";
import { knock, now, READ, sync } from "./dock-send.js";

const $ = (selector, inside = document) => inside.querySelector(selector);
const shell = $("#away");
const ticketOf = (path) => path.match(/^\/tickets\/([0-9a-f-]{36})/)?.[1] ?? "";
const here = ticketOf(location.pathname);
const unit = () => shell?.dataset.unit ?? $("form[data-dock]")?.dataset.unit;
const signedIn = () => shell?.dataset.login ?? $("header .who")?.textContent ?? "";

// memberName reads what people type for a member: "M-0012 Juniper Yard", "m-0012", "12".
function memberName(typed) {
  let member = typed.trim().toUpperCase().split(" ")[0];
  if (/^[0-9]+$/.test(member)) member = `M-${member.padStart(4, "0")}`;
  return `members/${member}`;
}

// cells are the lines of a field that takes one thing a line.
const cells = (text) => text.split("\n").filter((line) => line.trim()).map((line) => line.split(line.includes("\t") ? "\t" : ";").map((cell) => cell.trim()));

// What a form says, as the calls of /v1 take it.
const bodies = {
  weigh(fields, ids) {
    const mass = (typed) => ({ value: typed.replaceAll(",", /^\d{1,3}(,\d{3})+(\.\d+)?$/.test(typed) ? "" : "."), unit: unit() }); // "1,043" is a thousand
    const scale = fields.get("scale") ?? "";
    return {
      ...(fields.get("part") ? { part: true } : {}), ...(fields.get("container") ? { container: `CONTAINER_${fields.get("container")}` } : {}),
      request_id: ids.request, barrel_id: ids.thing, drum_tag: fields.get("drum_tag").trim().toUpperCase(),
      variety: (fields.get("other_variety") || fields.get("variety") || "").trim().toLowerCase(),
      gross: mass(fields.get("gross").trim()), tare: mass(fields.get("tare").trim()), tare_kind: `TARE_KIND_${fields.get("tare_kind")}`,
      scale, raw_indication: fields.get("gross").trim(), manual: true, reason: (fields.get("reason") ?? "").trim(), weigh_time: now().toISOString(),
    };
  },
  open(fields, ids) {
    const more = {};
    for (const name of ["vehicle", "yard_region", "remarks"]) if (fields.get(name)) more[name] = fields.get(name).trim();
    if (fields.get("owners")?.trim()) more.owners = cells(fields.get("owners")).map(([member, percent]) => ({ member: memberName(member), share_percent: (percent ?? "").replaceAll(",", ".").replace("%", "").trim() }));
    if (fields.get("claims")?.trim()) more.claims = cells(fields.get("claims")).map(([claim, certificate]) => ({ claim, certificate: certificate ?? "" }));
    return {
      ...more, request_id: ids.request, ticket_id: ids.thing, member: memberName(fields.get("member")), crop_year: Number(fields.get("crop_year")) || 0,
      hauler: (fields.get("hauler") ?? "").trim(), harvest_declared: fields.has("harvest_declared"), open_time: now().toISOString(),
    };
  },
};

function entryOf(kind, fields, ids, ticket) {
  const entry = { kind, login: signedIn(), ticket, body: bodies[kind](fields, ids) };
  entry.path = kind === "open" ? "/v1/tickets" : `/v1/tickets/${ticket}/barrels`;
  if (kind === "open") entry.memberName = fields.get("member").trim();
  return entry;
}

// correcting is the refused entry whose form is open.
let correcting;
let saving = false;
let keepDraft;

async function submitted(event) {
  const form = event.target;
  // A weight over the cable is taken by the gateway; there is nothing the device could send later.
  if (new FormData(form).get("from") === "scale") return;
  event.preventDefault();
  event.stopPropagation();
  if (saving || !chosen(form)) return;
  saving = true;
  try {
    await save(form, new FormData(form));
  } finally {
    saving = false;
  }
}

async function save(form, fields) {
  const kind = form.dataset.dock;
  const old = correcting;
  const used = ["REQUEST_ID_REUSED", "ALREADY_EXISTS"].includes(old?.refusal?.reason);
  const oldThing = used ? undefined : old?.body.barrel_id ?? old?.body.ticket_id;
  const ids = { request: (old ? "" : fields.get("request_id")) || newID(), thing: oldThing ?? newID() };
  const ticket = kind === "open" ? ids.thing : (old && (fields.get("ticket") || old.ticket)) || here;
  const entry = entryOf(kind, fields, ids, ticket);
  if (old) await corrected(old, entry, used);
  const kept = old ? Object.assign(entry, { order: old.order }) : await add(entry);
  const house = await sync();
  const then = (await entries()).find((e) => e.order === kept.order) ?? kept;
  if (!shell && then.state === "sent") {
    await remove(then);
    return location.assign(`/${then.answer.name}/${kind === "open" ? "weigh" : "sample"}`);
  }
  if (!shell && then.state === "refused") {
    // The house answers, so its own page says what is wrong, with the form still filled in.
    await remove(then);
    return form.submit();
  }
  if (kind === "open" && then.state !== "refused") return location.assign(`/tickets/${ticket}/weigh`);
  if (!old) next(form);
  await show(house);
}

// corrected puts a refused entry back in its place in the order. The time it was weighed stays, unless that was refused.
async function corrected(old, entry, used) {
  const tooOld = old.refusal?.fields?.some((f) => /^(weigh|open)_time$/.test(f.field)) || /_time$/.test(old.refusal?.metadata?.field ?? "");
  for (const name of ["weigh_time", "open_time"]) if (old.body[name] && !tooOld) entry.body[name] = old.body[name];
  await put({ ...entry, order: old.order, state: "waiting", tried: false, saveTime: old.saveTime });
  if (old.kind === "open" && used) {
    for (const e of await entries()) {
      if (e.kind === "weigh" && e.ticket === old.ticket && e.state !== "sent") await put({ ...e, ticket: entry.ticket, path: `/v1/tickets/${entry.ticket}/barrels` });
    }
  }
  leave();
}

// next empties what differs from barrel to barrel.
function next(form) {
  if (form.elements.request_id) form.elements.request_id.value = newID();
  for (const name of ["drum_tag", "gross", "tare", "reason"]) if (form.elements[name]) form.elements[name].value = "";
  if (form.elements.part) form.elements.part.checked = false;
  keepDraft?.();
  form.elements.drum_tag?.focus();
}

function element(tag, text, attributes = {}) {
  const made = document.createElement(tag);
  made.textContent = text;
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
}

const sentence = (text) => text ? text.charAt(0).toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? "" : ".") : "";
const count = (n, one, many) => `${n} ${n === 1 ? one : many}`;
const clock = (time) => new Date(time).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
const lasting = (m) => `${m.value} ${m.unit.toLowerCase()}`;

function headline(all) {
  const waiting = all.filter((e) => e.state === "waiting").length;
  const refused = all.filter((e) => e.state === "refused").length;
  const parts = [];
  if (waiting) parts.push(`Saved on this device, ${waiting} not yet sent.`);
  if (refused) parts.push(`${count(refused, "was", "were")} refused: correct ${refused === 1 ? "it" : "them"}.`);
  return parts.join(" ");
}

function reproach(house, all) {
  const others = new Set(all.filter((e) => e.state !== "sent" && house.login && e.login !== house.login).map((e) => e.login));
  if (house.state === "signedOut") return "Your sign-in has ended. Sign in again to send what waits; it stays on this device until then.";
  if (others.size) return `Saved here by ${[...others].join(", ")}. Only who weighed can send: sign in with that login.`;
  if (house.state === "away") return "The house does not answer. Go on weighing; it is sent when the network is back.";
  return "";
}

// show draws what is on the device: a line above pages of the house, or the whole of its own page.
async function show(house = {}) {
  const all = await entries();
  const said = headline(all);
  const warning = reproach(house, all);
  if (!shell) return banner(said, warning);
  $("#away-head").textContent = said || "Everything on this device has arrived.";
  $("#away-note").replaceChildren(...(warning ? [element("p", warning, { class: "note" })] : []));
  if (house.state === "signedOut") $("#away-note").append(element("a", "Sign in", { class: "button", href: "/sign-in?next=/dock/away" }));
  tickets(all);
  fill("#away-refused", all.filter((e) => e.state === "refused"), (e) => [element("p", sentence(why(e)), { class: "fault" }), buttons(e, "Correct it")]);
  fill("#away-waiting", all.filter((e) => e.state === "waiting"), (e) => [e.refusal?.message ? element("small", sentence(e.refusal.message)) : "", e.tried ? "" : buttons(e, "Change it")]);
  fill("#away-sent", all.filter((e) => e.state === "sent").reverse(), arrived);
}

const why = (e) => [e.refusal?.message, ...(e.refusal?.fields ?? []).map((f) => `${f.field}: ${f.message}`)].filter(Boolean).join(". ");

function banner(said, warning) {
  $("#away-banner")?.remove();
  if (!said && !(warning && $("form[data-dock]"))) return;
  const note = element("div", "", { class: "note note-wait", id: "away-banner", role: "status" });
  const line = element("p", `${said} ${warning} `);
  line.append(element("a", "See them", { href: "/dock/away" }));
  note.append(line);
  $("main").prepend(note);
}

function fill(part, list, more) {
  $(part).hidden = list.length === 0;
  $(`${part} ul`).replaceChildren(...list.map((e) => {
    const row = element("li", "", { class: "row", "data-order": e.order });
    const main = element("span", "", { class: "row-main" });
    const title = e.kind === "open" ? e.memberName : e.body.drum_tag;
    const line = e.kind === "open" ? `new delivery, ${clock(e.body.open_time)}` : `${e.body.variety} · gross ${lasting(e.body.gross)} − tare ${lasting(e.body.tare)}, ${clock(e.body.weigh_time ?? e.saveTime)}`;
    main.append(element("strong", title), element("span", line), ...more(e).filter(Boolean));
    row.append(main);
    if (e.answer?.net) row.append(element("span", lasting(e.answer.net), { class: "row-end" }));
    return row;
  }));
}

function arrived(e) {
  if (e.kind === "open") return [element("small", `ticket ${e.answer.number}`)];
  const parts = [element("small", `line ${e.answer.line} of the ticket`)];
  if (!e.answer.sample) parts.push(element("a", "Draw the sample", { class: "chip", href: `/${e.answer.name}/sample` }));
  return parts;
}

// buttons are for whoever weighed: nobody else changes a weight or throws it away.
function buttons(e, label) {
  if (e.login !== signedIn()) return element("small", `by ${e.login}`);
  const both = element("span", "", { class: "chips" });
  const change = element("button", label, { class: "chip", type: "button" });
  change.addEventListener("click", () => correct(e));
  const drop = element("button", "Throw it away", { class: "chip", type: "button" });
  drop.addEventListener("click", () => discard(e));
  both.append(change, drop);
  return both;
}

async function discard(e) {
  const hang = (await entries()).filter((o) => o.kind === "weigh" && e.kind === "open" && o.ticket === e.ticket && o.state !== "sent");
  if (hang.length) return alert(`${count(hang.length, "barrel hangs", "barrels hang")} on this delivery. Correct it instead.`);
  if (!confirm(`Throw ${e.body.drum_tag ?? e.memberName} away? It is nowhere else.`)) return;
  await remove(e);
  await show();
}

// correct opens the form of an entry with what was typed.
function correct(e) {
  correcting = e;
  const form = $(`form[data-dock=${e.kind}]`);
  const known = (name, value) => {
    const button = [...form.querySelectorAll(`[name=${name}]`)].find((b) => b.value === value);
    if (button) button.checked = true;
    return Boolean(button);
  };
  if (e.kind === "weigh") {
    const b = e.body;
    for (const [name, value] of Object.entries({ drum_tag: b.drum_tag, gross: b.gross.value, tare: b.tare.value, reason: b.reason === READ ? "" : b.reason })) form.elements[name].value = value ?? "";
    form.elements.other_variety.value = known("variety", b.variety) ? "" : b.variety;
    known("tare_kind", b.tare_kind.replace("TARE_KIND_", ""));
    known("scale", b.scale);
    form.elements.part.checked = Boolean(b.part);
    known("container", (b.container ?? "").replace("CONTAINER_", ""));
    known("ticket", e.ticket);
    $("#away-ticket").textContent = `Correct ${b.drum_tag}`;
    $("#away-reason").hidden = false;
    $("fieldset", form).hidden = false;
  } else {
    form.elements.member.value = e.memberName;
    form.elements.crop_year.value = e.body.crop_year;
    form.elements.hauler.value = e.body.hauler;
    form.elements.harvest_declared.checked = e.body.harvest_declared;
    for (const name of ["vehicle", "yard_region", "remarks"]) form.elements[name].value = e.body[name] ?? "";
    form.elements.owners.value = (e.body.owners ?? []).map((o) => `${o.member.replace("members/", "")}; ${o.share_percent}`).join("\n");
    form.elements.claims.value = (e.body.claims ?? []).map((c) => [c.claim, c.certificate].filter(Boolean).join("; ")).join("\n");
    $("details", form).open = Boolean(form.elements.owners.value || form.elements.claims.value);
  }
  $(`#away-${e.kind === "open" ? "new" : "weigh"}`).hidden = false;
  form.scrollIntoView();
  form.elements[0].focus();
}

function leave() {
  correcting = undefined;
  $("#away-reason").hidden = true;
  $("form[data-dock=weigh] fieldset").hidden = true;
  $("#away-weigh").hidden = !here;
  $("#away-new").hidden = location.pathname !== "/tickets/new";
}

// tickets lists the deliveries of the house and those that so far are only here.
function tickets(all) {
  const list = $("#away-open ul");
  for (const e of all) {
    if (e.kind !== "open" || list.querySelector(`[data-ticket="${e.ticket}"]`)) continue;
    const item = element("li", "", { "data-ticket": e.ticket, "data-number": e.answer?.number ?? "no number yet", "data-name": e.memberName });
    const link = element("a", "", { class: "row", href: `/tickets/${e.ticket}/weigh` });
    const main = element("span", "", { class: "row-main" });
    main.append(element("strong", e.memberName), element("span", item.dataset.number));
    link.append(main);
    item.append(link);
    list.append(item);
  }
  const choices = $("form[data-dock=weigh] .choices");
  const chosen = correcting?.ticket ?? here;
  choices.replaceChildren(...[...list.children, ...[""]].map((item, i) => {
    const choice = element("div", "", { class: "choice" });
    const value = item ? item.dataset.ticket : "";
    const input = element("input", "", { type: "radio", name: "ticket", id: `c-ticket-${i}`, value });
    input.checked = value === chosen;
    choice.append(input, element("label", item ? `${item.dataset.name}, ${item.dataset.number}` : "As before", { for: input.id }));
    return choice;
  }));
  const current = list.querySelector(`[data-ticket="${here}"]`);
  if (here) $("#away-ticket").textContent = current ? `Weigh for ${current.dataset.name}, ${current.dataset.number}` : "Weigh";
  const waiting = all.filter((e) => e.kind === "weigh" && e.ticket === here && e.state === "waiting").length;
  $("#away-lead").textContent = here && waiting ? `${count(waiting, "barrel", "barrels")} of this delivery.` : "What is weighed while the house does not answer waits here until it has arrived.";
}

// A scale over the cable may lose the network halfway, and a device its power: what was typed, and what seldom changes from
// barrel to barrel, is there again on the page that follows.
const DRAFT = "barrelhead-draft";

function draft(form) {
  const write = (names) => {
    const values = [...new FormData(form)].filter(([name]) => names.includes(name));
    localStorage.setItem(DRAFT, JSON.stringify({ page: location.pathname, values }));
  };
  const seldom = ["variety", "other_variety", "tare_kind", "scale"];
  if (shell) recall(form);
  else write(seldom);
  form.addEventListener("submit", () => write(["drum_tag", "tare", ...seldom]));
  return () => write(seldom);
}

function recall(form) {
  const kept = JSON.parse(localStorage.getItem(DRAFT) ?? "{}");
  if (kept.page !== location.pathname) return;
  for (const [name, value] of kept.values) {
    for (const field of form.querySelectorAll(`[name=${name}]`)) {
      if (field.type === "radio") field.checked = field.value === value;
      else field.value = value;
    }
  }
}

// chosen asks for a floral source before anything is saved: offline nobody else would ask before the truck has gone.
function chosen(form) {
  const first = form.querySelector("[name=variety]");
  const fields = new FormData(form);
  if (!first || fields.get("variety") || fields.get("other_variety")) return true;
  first.setCustomValidity("Choose the floral source.");
  form.addEventListener("input", () => first.setCustomValidity(""), { once: true });
  form.reportValidity();
  return false;
}

async function begin() {
  for (const form of document.querySelectorAll("form[data-dock]")) {
    form.addEventListener("submit", submitted);
    if (form.dataset.dock === "weigh") keepDraft = draft(form);
  }
  if (shell) {
    leave();
    $("#away-send").addEventListener("click", async () => show(await sync()));
    if (here) $("#f-drum_tag").focus();
  }
  if (navigator.serviceWorker) navigator.serviceWorker.register("/dock-worker.js").catch(() => {});
  navigator.storage?.persist?.();
  await show();
  const pending = async () => (await entries()).some((e) => e.state === "waiting");
  const again = async () => {
    if (await pending()) await show(await sync());
  };
  await show(await pending() ? await sync() : await knock());
  document.documentElement.dataset.dock = "ready";
  addEventListener("online", again);
  setInterval(again, 15000);
}

begin();
