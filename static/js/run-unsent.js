// What a device keeps of a run sheet until it is sent: answers, each with its photos.

const NAME = "deskwright-unsent";

function openDatabase() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("unsent", { keyPath: "token" });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

async function inDatabase(mode, work) {
  const database = await openDatabase();
  return new Promise((resolve, reject) => {
    const dealing = database.transaction("unsent", mode);
    const asked = work(dealing.objectStore("unsent"));
    function fail() {
      database.close();
      reject(dealing.error);
    }
    dealing.oncomplete = () => {
      database.close();
      resolve(asked.result);
    };
    dealing.onerror = fail;
    dealing.onabort = fail;
  });
}

// Without a database (some private windows) words are kept as plain text, and photos only while the
// page is open.
const plain = {
  read() {
    try {
      return JSON.parse(localStorage.getItem(NAME)) || [];
    } catch {
      return [];
    }
  },
  write(entries) {
    try {
      localStorage.setItem(NAME, JSON.stringify(entries));
    } catch {
      // nothing can be kept
    }
  },
  without(token) {
    return plain.read().filter((entry) => entry.token !== token);
  },
};

export async function keep(entry) {
  try {
    await inDatabase("readwrite", (shelf) => shelf.put(entry));
  } catch {
    plain.write([...plain.without(entry.token), { ...entry, blobs: [] }]);
  }
}

export async function drop(entry) {
  plain.write(plain.without(entry.token));
  try {
    await inDatabase("readwrite", (shelf) => shelf.delete(entry.token));
  } catch {
    // it was never there
  }
}

// All that waits, the oldest first.
export async function kept() {
  const found = plain.read();
  try {
    found.push(...(await inDatabase("readonly", (shelf) => shelf.getAll())));
  } catch {
    // then the plain words are all there is
  }
  const known = new Map(found.map((entry) => [entry.token, entry]));
  return [...known.values()].sort((a, b) => a.at - b.at);
}

// How many wait. Where the device cannot say, the promise fails: kept() would name those it knows
// of.
export async function counted() {
  const inside = await inDatabase("readonly", (shelf) => shelf.count());
  return plain.read().length + inside;
}

// randomUUID is missing where the page came over plain HTTP.
export function newToken() {
  const bytes = [...crypto.getRandomValues(new Uint8Array(18))];
  return bytes.map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
