// What was weighed stays on the device until the house has answered for it. One entry is one call of /v1, in the order
// the clerk made them, with the request id it keeps however often it is sent.

const DATABASE = "barrelhead-dock";
const ENTRIES = "entries";
// An answered entry is shown for a day, then it is the house's alone.
const SHOWN = 24 * 3600 * 1000;

const asked = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

let opened;
function database() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(DATABASE, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(ENTRIES, { keyPath: "order", autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opened;
}

// change runs one step and returns only when it is on disk: a device may lose its power the moment after.
async function change(step) {
  const transaction = (await database()).transaction(ENTRIES, "readwrite", { durability: "strict" });
  const done = new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
  });
  const result = await asked(step(transaction.objectStore(ENTRIES)));
  await done;
  return result;
}

// entries are all of them, oldest first.
export async function entries() {
  return asked((await database()).transaction(ENTRIES).objectStore(ENTRIES).getAll());
}

// add takes kind, login, ticket, path and body, and returns the entry with its place in the order.
export async function add(entry) {
  const kept = { state: "waiting", tried: false, saveTime: Date.now(), ...entry };
  kept.order = await change((store) => store.add(kept));
  return kept;
}

export const put = (entry) => change((store) => store.put(entry));
export const remove = (entry) => change((store) => store.delete(entry.order));

// tidy forgets what was answered long ago.
export async function tidy() {
  for (const entry of await entries()) {
    if (entry.state === "sent" && Date.now() - entry.saveTime > SHOWN) await remove(entry);
  }
}

// newID makes a UUID. crypto.randomUUID would be missing where pages come by plain HTTP over a closed network.
export function newID() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
