// Stand-ins for what a browser has and Node has not: as little as the modules ask for.

import { webcrypto } from "node:crypto";

export const HOUSE = "https://desk.example.com";

export function put(name, value) {
  Object.defineProperty(globalThis, name, { value, configurable: true, writable: true });
}

if (!globalThis.crypto) put("crypto", webcrypto); // Node 18 has it under another name

// -- caches --------------------------------------------------------------------------------------

function addressOf(asked) {
  const address = typeof asked === "string" ? asked : asked.url;
  return new URL(address, HOUSE).href;
}

class Cache {
  #answers = new Map();

  async match(asked) {
    return this.#answers.get(addressOf(asked))?.clone();
  }

  async put(asked, answer) {
    this.#answers.set(addressOf(asked), answer);
  }

  async delete(asked) {
    return this.#answers.delete(addressOf(asked));
  }

  async keys() {
    return [...this.#answers.keys()].map((address) => new Request(address));
  }

  async addAll(requests) {
    for (const request of requests) {
      const answer = await fetch(request);
      if (!answer.ok) throw new TypeError("Request failed");
      await this.put(request, answer);
    }
  }
}

export class Caches {
  #caches = new Map();

  async open(name) {
    if (!this.#caches.has(name)) this.#caches.set(name, new Cache());
    return this.#caches.get(name);
  }

  async has(name) {
    return this.#caches.has(name);
  }

  async keys() {
    return [...this.#caches.keys()];
  }

  async delete(name) {
    return this.#caches.delete(name);
  }

  // Paths by the name of their cache, to be compared.
  async paths() {
    const found = {};
    for (const [name, cache] of this.#caches) {
      const keys = await cache.keys();
      found[name] = keys.map((request) => new URL(request.url).pathname);
    }
    return found;
  }
}

// -- what is kept as text ------------------------------------------------------------------------

export class TextStorage {
  #texts = new Map();

  getItem(name) {
    return this.#texts.has(name) ? this.#texts.get(name) : null;
  }

  setItem(name, text) {
    this.#texts.set(name, String(text));
  }
}

// -- a database with one store, by token ---------------------------------------------------------

function later(asked, result) {
  asked.result = result;
  return asked;
}

class Dealing {
  constructor(entries) {
    this.entries = entries;
    queueMicrotask(() => this.oncomplete());
  }

  objectStore() {
    const { entries } = this;
    return {
      put: (entry) => later({}, entries.set(entry.token, structuredClone(entry))),
      delete: (token) => later({}, entries.delete(token)),
      getAll: () => later({}, [...entries.values()]),
      count: () => later({}, entries.size),
    };
  }
}

export class Database {
  #entries = new Map();

  open() {
    const database = { transaction: () => new Dealing(this.#entries), close: () => undefined };
    const asked = later({}, database);
    queueMicrotask(() => asked.onsuccess());
    return asked;
  }
}

// -- time ----------------------------------------------------------------------------------------

// A clock that stands still until it is moved.
export class Clock {
  #waiting = new Map();
  #last = 0;
  #real = { setTimeout, clearTimeout, now: Date.now };

  constructor(now) {
    this.now = now;
    put("setTimeout", (work, ms, ...given) => {
      this.#last += 1;
      this.#waiting.set(this.#last, { work, at: this.now + ms, given });
      return this.#last;
    });
    put("clearTimeout", (id) => this.#waiting.delete(id));
    Date.now = () => this.now;
  }

  // How long what waits has still to wait, in ms.
  get pauses() {
    return [...this.#waiting.values()].map(({ at }) => at - this.now);
  }

  async pass(ms) {
    this.now += ms;
    for (const [id, { work, at, given }] of this.#waiting) {
      if (at > this.now) continue;
      this.#waiting.delete(id);
      work(...given);
    }
    await settled();
  }

  end() {
    put("setTimeout", this.#real.setTimeout);
    put("clearTimeout", this.#real.clearTimeout);
    Date.now = this.#real.now;
  }
}

// Until all promises have come as far as they come by themselves.
export function settled() {
  return new Promise((resolve) => {
    setImmediate(() => setImmediate(resolve));
  });
}
