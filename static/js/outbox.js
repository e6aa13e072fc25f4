// Taps that wait on this tablet: written down before they are sent (while it is sent, where nothing else waits), sent in
// order and one tab at a time, and taken off only when the server has answered. The key of a tap makes the server
// recognise what it had received already.
const floorOutbox = (() => {
  const PATIENCE_MS = 10000;
  const PATIENCE_WITH_FILES_MS = 120000;
  const LIVE = said("asked", "The server is asked now.");
  const changed = "BroadcastChannel" in window ? new BroadcastChannel("floor-outbox") : null;

  const opened = new Promise((resolve, reject) => {
    const opening = indexedDB.open("floor", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("taps", { keyPath: "id", autoIncrement: true });
    opening.onsuccess = () => resolve(opening.result);
    opening.onerror = () => reject(opening.error);
  });
  opened.catch(() => {}); // who asks for it hears of it

  const store = async (mode, act) => {
    const database = await opened;
    return new Promise((resolve, reject) => {
      // "strict": what the person was told is kept must survive a flat battery.
      const transaction = database.transaction("taps", mode, { durability: "strict" });
      const asked = act(transaction.objectStore("taps"));
      transaction.oncomplete = () => resolve(asked.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  };
  const all = () => store("readonly", (taps) => taps.getAll());
  const tell = () => {
    document.dispatchEvent(new CustomEvent("floor:outbox"));
    changed?.postMessage("changed");
  };
  changed?.addEventListener("message", () => document.dispatchEvent(new CustomEvent("floor:outbox")));
  const add = async (tap) => store("readwrite", (taps) => taps.add(tap));
  const remove = async (id) => {
    await store("readwrite", (taps) => taps.delete(id));
    tell();
  };
  const note = async (tap, state, said, go) => {
    await store("readwrite", (taps) => taps.put({ ...tap, state, said, go }));
    tell();
  };

  const cookie = (name) => document.cookie.split("; ").find((each) => each.startsWith(`${name}=`))?.slice(name.length + 1);

  // One answer of the server, in a word: "ok", "refused", "sign_in", "strange" (no answer to a tap), "error" (500),
  // "down" (nothing, or somebody who is not the shop's server).
  const send = async (tap, live) => {
    const files = tap.fields.some(([, value]) => value instanceof Blob);
    // A form in parts takes the server longer to read; it is for files.
    const form = files ? new FormData() : new URLSearchParams();
    for (const [name, value] of tap.fields) form.append(name, value);
    form.set("csrfmiddlewaretoken", cookie("csrftoken") ?? "");
    if (!live) form.set("tapped_at", tap.at);
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), files ? PATIENCE_WITH_FILES_MS : PATIENCE_MS);
    try {
      const answer = await fetch(tap.action, {
        method: "POST",
        body: form,
        headers: { Accept: "application/json" },
        signal: stop.signal,
      });
      if (answer.status >= 502 && answer.status <= 504) return { word: "down" };
      if (answer.status >= 500) return { word: "error" };
      const json = (answer.headers.get("Content-Type") ?? "").includes("json") ? await answer.json() : null;
      if (json?.ok) return { word: "ok", go: json.go };
      if (json?.refused) return { word: "refused", said: json.refused };
      if (json?.sign_in) return { word: "sign_in", said: json.sign_in, go: json.go };
      return { word: answer.ok ? "ok" : "strange", status: answer.status };
    } catch {
      return { word: "down" };
    } finally {
      clearTimeout(timer);
    }
  };

  const later = {
    sign_in: (answer) => answer.said,
    error: () =>
      said(
        "serverError",
        "The server could not take it in and is asked again. If this stays, tell whoever looks after the shop's machine.",
      ),
    forbidden: () =>
      said("forbidden", "The server does not accept this tablet now. Open the queue, sign in again; then it is sent."),
  };

  // Sends what waits; with `liveId` that tap as one that is made now, and with `sent` as one that is on its way already.
  // Returns what became of it.
  const drain = async (liveId, sent) => {
    let outcome = { word: "kept" };
    let linked = false;
    const heldBack = new Set();
    for (const tap of await all()) {
      const live = tap.id === liveId;
      if (tap.state === "refused") continue;
      if (tap.shells.some((serial) => heldBack.has(serial))) continue;
      const answer = await (live && sent ? sent : send(tap, live));
      if (answer.word === "down") {
        document.dispatchEvent(new CustomEvent("floor:link", { detail: false }));
        return outcome;
      }
      if (!linked) document.dispatchEvent(new CustomEvent("floor:link", { detail: true }));
      linked = true;
      if (live) outcome = answer;
      if (answer.word === "ok" || (live && answer.word !== "error")) {
        await remove(tap.id);
        if (!live) document.dispatchEvent(new CustomEvent("floor:sent"));
      } else if (answer.word === "refused") {
        await note(tap, "refused", answer.said);
      } else if (answer.word === "strange" && answer.status !== 403) {
        const why = said("strange", "The server does not know what this is ({status}). Look at the shell, then tap again.", {
          status: answer.status,
        });
        await note(tap, "refused", why);
      } else {
        const state = answer.word === "strange" ? "forbidden" : answer.word;
        await note(tap, state, later[state](answer), answer.go);
        // What follows for the same shell waits with it; other shells need not.
        for (const serial of tap.shells) heldBack.add(serial);
        if (live) outcome = { word: "kept" };
      }
    }
    // A page that was kept loads itself anew then; what was answered has to be off the tablet before.
    if (linked) document.dispatchEvent(new CustomEvent("floor:drained"));
    return outcome;
  };

  // Without locks (a page that did not come by https) two tabs may send the same tap; the server takes it once.
  const alone = (act, wait) => {
    if (!navigator.locks) return act();
    if (wait) return navigator.locks.request("floor-outbox", act);
    return navigator.locks.request("floor-outbox", { ifAvailable: true }, (lock) => (lock ? act() : undefined));
  };

  return {
    all,
    remove,
    /** Keeps a tap and tries to send it: {word: "ok" | "refused" | …}, or {word: "kept"}. Throws when nothing can be kept.
     *
     * With `answered` it is sent while it is being kept, and `answered` is told what the server said before the tap is off
     * the tablet again. Only where nothing waits: else it would overtake.
     */
    tap: (tap, answered) => {
      const sent = answered ? send(tap, true) : undefined;
      sent?.then(answered);
      return alone(async () => {
        const id = await add({ ...tap, state: "waiting", said: LIVE });
        const outcome = await drain(id, sent);
        tell();
        return outcome;
      }, true);
    },
    drain: () => alone(() => drain(), false),
  };
})();
