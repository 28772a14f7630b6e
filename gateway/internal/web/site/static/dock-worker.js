// Stands between the pages of the dock and the network. While the house answers it changes nothing; when it does not, the
// page the device keeps for that is shown instead, whatever page of the dock was asked for.
"use strict";

const SHELF = "barrelhead-dock";
const SHELL = "/dock/away";
const PATIENCE = 6000;
const ofTheDock = /^\/($|dock(\/|$)|tickets(\/|$)|barrels\/)/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (address.origin !== self.location.origin) return;
  if (address.pathname.startsWith("/static/")) {
    event.respondWith(caches.match(event.request).then((kept) => kept ?? fetch(event.request)));
  } else if (event.request.mode === "navigate" && address.pathname === "/sign-out") {
    event.respondWith(signOut(event.request));
  } else if (event.request.mode === "navigate" && ofTheDock.test(address.pathname)) {
    event.respondWith(page(event.request, address));
  }
});

// signOut takes the kept page with it: it names members. What was weighed stays, for whoever weighed it to send.
async function signOut(request) {
  const answer = await fetch(request);
  await caches.delete(SHELF);
  return answer;
}

async function page(request, address) {
  const shell = await caches.match(SHELL);
  if (!shell) return fetch(request);
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE));
  let answer;
  try {
    answer = await Promise.race([fetch(request), late]);
  } catch {
    // no network
  }
  if (answer && ![502, 503, 504].includes(answer.status)) return answer;
  // A form whose answer was lost goes back to its page; its request id keeps it from being done twice.
  if (request.method !== "GET") return Response.redirect(address.pathname, 303);
  return shell;
}
