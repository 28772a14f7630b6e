// Sending what waits on the device, in order. Every call carries the request id it was saved with, so sending twice, from
// two tabs, or after an answer was lost, has one effect.
import { entries, put, tidy } from "./dock-store.js";

export const SHELF = "barrelhead-dock";
export const SHELL = "/dock/away";
const PATIENCE = 8000;
const CLOCK = "barrelhead-clock";
// READ is the reason of a weight that was typed and is usual.
export const READ = "read from the display";

// now is the time of the house as far as the device knows it: clocks of tablets are wrong.
export const now = () => new Date(Date.now() + Number(localStorage.getItem(CLOCK) ?? 0));

function setClock(answer) {
  const told = Date.parse(answer.headers.get("Date") ?? "");
  if (!Number.isNaN(told)) localStorage.setItem(CLOCK, String(told - Date.now()));
}

const call = (address, options) => fetch(address, { cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(PATIENCE), ...options });

// knock asks for the page of the device: whether the house answers, who is signed in, and the token of their forms.
export async function knock() {
  let answer;
  try {
    answer = await call(SHELL);
  } catch {
    return { state: "away" };
  }
  if (answer.type === "opaqueredirect" || answer.status === 401) return { state: "signedOut" };
  if (!answer.ok) return { state: "away" };
  const copy = answer.clone();
  let text;
  try {
    text = await answer.text();
  } catch {
    return { state: "away" };
  }
  const page = new DOMParser().parseFromString(text, "text/html");
  const token = page.querySelector("#away input[name=form_token]");
  // A public network answers every address with a page of its own.
  if (!token) return { state: "away" };
  setClock(answer);
  await keep(copy, page);
  return { state: "here", login: page.querySelector("#away").dataset.login, token: token.value };
}

// keep puts the page and what it is drawn with where the worker finds it without a network.
async function keep(answer, page) {
  if (!("caches" in globalThis)) return;
  const parts = ["dock.js", "dock-send.js", "dock-store.js"].map((name) => new URL(name, import.meta.url).href);
  for (const e of page.querySelectorAll("link[href], script[src]")) parts.push(new URL(e.getAttribute("href") ?? e.getAttribute("src"), location.origin).href);
  try {
    const shelf = await caches.open(SHELF);
    for (const part of new Set(parts)) if (!await shelf.match(part)) await shelf.add(part);
    await shelf.put(SHELL, answer);
    for (const old of await shelf.keys()) {
      if (old.url.includes("/static/") && !parts.includes(old.url)) await shelf.delete(old);
    }
  } catch {
    // A full disk or a network that went away in between: the page kept before stays good.
  }
}

let queue = Promise.resolve();

// sync sends what waits and says how it went: "here", "away" or "signedOut". Two tabs take turns; without locks, which
// browsers give to secure pages only, the request ids alone keep them from doubling anything.
export function sync() {
  if (navigator.locks) return navigator.locks.request(SHELF, send);
  queue = queue.then(send, send);
  return queue;
}

async function send() {
  await tidy();
  const house = await knock();
  if (house.state !== "here") return house;
  const stuck = new Set();
  for (const entry of await entries()) {
    const ours = entry.login === house.login;
    if (entry.state === "waiting" && ours && !stuck.has(entry.ticket)) {
      const state = await one(entry, house.token);
      if (state !== "here") return { ...house, state };
    }
    // Barrels of a delivery the house does not know yet would all be refused.
    if (entry.kind === "open" && entry.state !== "sent") stuck.add(entry.ticket);
  }
  return house;
}

async function one(entry, token) {
  entry.tried = true;
  await put(entry);
  let answer, body;
  try {
    answer = await call(entry.path, {
      method: "POST", headers: { "Content-Type": "application/json", "X-Form-Token": token }, body: JSON.stringify(entry.body),
    });
    if (answer.type === "opaqueredirect" || answer.status === 401) return "signedOut";
    body = await answer.json();
  } catch {
    return "away";
  }
  if (answer.ok) {
    Object.assign(entry, { state: "sent", answer: body, refusal: undefined });
    await put(entry);
    return "here";
  }
  return refused(entry, answer, body?.error ?? {}, token);
}

async function refused(entry, answer, refusal, token) {
  const later = answer.status >= 500 || answer.status === 429 || refusal.code === "ABORTED";
  if (later) {
    entry.refusal = refusal;
    await put(entry);
    // Our own fault with one entry must not hold up the others; a part of the house that is away holds up all.
    return refusal.code === "INTERNAL" ? "here" : "away";
  }
  if (refusal.reason === "REASON_REQUIRED" && refusal.metadata?.field === "reason" && !entry.body.reason) {
    // That the weight was typed is said by the page itself; an unusual weight only the clerk can explain. What is sent is
    // saved first: the same id must never go out with two bodies once one of them was taken.
    entry.body.reason = READ;
    return one(entry, token);
  }
  Object.assign(entry, { state: "refused", refusal });
  await put(entry);
  return "here";
}
