// What a page of the floor says and does about the link: keep taps, show what waits, say how old a kept page is.
(() => {
  const AGAIN_MS = 10000;
  const AHEAD_AT_MOST = 40;
  const AHEAD_AFTER_MS = 3000;
  const SIGN_OUT = "floor-sign-out"; // a "Change worker" that has not reached the server
  const QUEUE = "floor-queue";
  const SAID = "floor-said";
  const KEPT = said("kept", "Kept on this tablet; it is sent when the link is back.");

  const bar = document.getElementById("outbox");
  const keptAt = document.documentElement.dataset.keptAt; // set by the tablet's worker on a page that it kept
  const toKeptQueue = document.querySelector("[data-queue-link]"); // on the page that says that there is no link
  const fromServer = !keptAt && !toKeptQueue;
  const worker = bar.dataset.worker;
  const live = () => document.getElementById("live");
  let linked = fromServer && navigator.onLine;
  let waiting = [];

  const time = (iso) => {
    const at = new Date(iso);
    const language = document.documentElement.lang.replace(/^en$/, "en-GB");
    const clock = at.toLocaleTimeString(language, { hour: "2-digit", minute: "2-digit" });
    const today = at.toDateString() === new Date().toDateString();
    return today ? clock : `${at.toLocaleDateString(language, { day: "numeric", month: "short" })} ${clock}`;
  };
  const element = (name, words, className = "") => {
    const made = document.createElement(name);
    made.textContent = words;
    made.className = className;
    return made;
  };
  const remembered = (name) => {
    try {
      return localStorage.getItem(name);
    } catch {
      return null;
    }
  };
  const remember = (name, value) => {
    try {
      if (value) localStorage.setItem(name, value);
      else localStorage.removeItem(name);
    } catch {
      // a tablet that keeps nothing: the page works all the same
    }
  };

  // ---- what is shown

  const aboutLink = () => {
    if (!linked && keptAt) {
      return live()
        ? said("oldQueue", "No link. This is the queue of {time}.", { time: time(keptAt) })
        : said("oldPage", "No link. This is the page of {time}.", { time: time(keptAt) });
    }
    if (keptAt) return said("linkBack", "The link is back. This page is of {time}.", { time: time(keptAt) });
    if (linked) return "";
    return worker
      ? said("noLinkKept", "No link. What you sign here is kept on this tablet.")
      : said("noLinkNobody", "No link. Nobody can sign in until it is back.");
  };

  const row = (tap) => {
    const item = document.createElement("li");
    item.dataset.state = tap.state;
    const what = document.createElement("p");
    what.append(element("b", tap.what), ` · ${tap.who}, ${time(tap.at)}`);
    const reason = {
      refused: () => said("refusedFor", "Refused: {why}", { why: tap.said }),
      waiting: () => said("waits", "Waits for the link."),
    }[tap.state]?.();
    item.append(what, element("p", reason ?? tap.said));
    item.classList.toggle("is-refused", tap.state === "refused");
    if (tap.state === "refused") {
      const seen = element("button", said("seen", "Seen, remove"), "button");
      seen.type = "button";
      seen.addEventListener("click", () => floorOutbox.remove(tap.id).then(show));
      item.append(seen);
    } else if (tap.state === "sign_in" && tap.go) {
      const go = element("a", said("signIn", "Sign in"));
      go.href = tap.go;
      item.append(go);
    }
    return item;
  };

  const marks = () => {
    for (const note of document.querySelectorAll(".kept-note")) note.remove();
    for (const form of document.querySelectorAll("form[data-kept-away]")) {
      form.hidden = false;
      delete form.dataset.keptAway;
    }
    const here = (serial) => document.querySelector(`form[data-keep-shells~="${CSS.escape(serial)}"]`);
    for (const tap of waiting.filter((each) => each.note)) {
      for (const serial of tap.shells) {
        const state = document.querySelector(`#shell-${CSS.escape(serial)} .floor-row-state`);
        state?.append(element("span", tap.note, "kept-note"));
        if (!here(serial)) continue;
        const note = element("p", `${tap.note} (${tap.who}, ${time(tap.at)}).`, "kept-note message");
        note.setAttribute("role", "status");
        document.querySelector(".step-do")?.prepend(note);
        if (!tap.closes) continue;
        for (const form of document.querySelectorAll("form[data-keep]")) {
          form.hidden = true;
          form.dataset.keptAway = "";
        }
      }
    }
    // Forms with a PIN need the server; say so before somebody types.
    for (const form of document.querySelectorAll("main form:has(input[name=pin])")) {
      form.querySelector(".needs-link")?.remove();
      if (!linked) form.prepend(element("p", said("pinWaits", "No link: the PIN can't be checked, so this waits until it is back."), "needs-link message warning"));
    }
  };

  // A queue that was kept is of no use once there is a newer one, and what waited here is off the tablet, whichever tab sent
  // it.
  const loadedAnew = () => {
    if (!keptAt || !live()) return false;
    location.reload();
    return true;
  };

  const show = async () => {
    const taps = await floorOutbox.all().catch(() => []);
    waiting = taps.filter((tap) => tap.state !== "refused");
    const refused = taps.filter((tap) => tap.state === "refused");
    if (linked && !waiting.length && loadedAnew()) return;
    const link = bar.querySelector(".outbox-link");
    const about = aboutLink();
    if (link.textContent !== about) link.textContent = about;
    if (keptAt && linked) {
      const again = element("a", said("showNow", "Show it as it is now"));
      again.href = location.href;
      link.append(" ", again);
    }
    if (!waiting.length) say("");
    const details = bar.querySelector("details");
    details.hidden = !taps.length;
    details.querySelector("ul").replaceChildren(...taps.map(row));
    const words = [
      waiting.length && said("notSent", "{taps} not sent yet", { taps: waiting.length }),
      refused.length && said("refused", "{taps} refused", { taps: refused.length }),
    ];
    details.querySelector("summary").textContent = words.filter(Boolean).join(", ");
    if (refused.length || waiting.some((tap) => tap.state !== "waiting")) details.open = true;
    bar.hidden = !(about || taps.length || bar.querySelector(".outbox-said").textContent);
    marks();
  };

  const say = (words) => {
    bar.querySelector(".outbox-said").textContent = words;
  };
  const heard = (is) => {
    if (linked === is) return;
    linked = is;
    show();
  };

  // ---- keeping taps

  // A button may say of itself where it sends the form and what that is.
  const tapOf = (form, button) => {
    const about = { ...form.dataset, ...button?.dataset };
    const every = [...new FormData(form, button)];
    return {
      action: button?.hasAttribute("formaction") ? button.formAction : form.getAttribute("action"),
      fields: every.filter(
        ([name, value]) => name !== "csrfmiddlewaretoken" && !(value instanceof File && !value.name && !value.size),
      ),
      at: new Date().toISOString(),
      what: about.keepWhat,
      note: about.keepNote ?? "",
      done: about.keepDone ?? said("serverHasIt", "The server has it."),
      tone: about.keepTone ?? "success", // in which colour that is said
      closes: "keepCloses" in form.dataset, // nothing more can be done here with these shells until it is sent
      shells: about.keepShells?.split(" ") ?? every.filter(([name]) => name === "shell").map(([, value]) => value),
      who: worker ?? "",
    };
  };

  // As without scripts; also to see the server's page about a tap that it has answered already.
  const natively = (form, action) => {
    form.setAttribute("action", action);
    if (form.querySelector("input[type=file]")) form.enctype = "multipart/form-data";
    form.submit();
  };

  // The server has answered; that is said at once, above what was pressed, and not only by the page that comes next. The
  // place for it stood in the page before, else nothing would be read out; the button that had the focus is gone.
  const done = (form, tap) => {
    const place = document.querySelector(".tap-said");
    if (!place) return; // a page of an older version, which the tablet kept
    form.remove();
    place.replaceChildren(element("p", tap.done, `message ${tap.tone}`));
    place.focus();
  };

  const toQueue = (words) => {
    // Without the tablet's worker there is no queue to go to while the link is down.
    if (!navigator.serviceWorker?.controller) {
      say(words);
      return show();
    }
    try {
      sessionStorage.setItem(SAID, words);
    } catch {
      // the bar says it all the same
    }
    location.assign(bar.dataset.queue);
  };

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (event.defaultPrevented) return;
    if (form.getAttribute("action")?.endsWith("/sign-out/")) remember(SIGN_OUT, "left");
    if (form.matches("[data-scan]") && !linked && bar.dataset.queue) {
      // A scan is looked up by the server; without it, by what is kept here.
      const code = form.elements.q.value.trim();
      const serial = /\/s\/([^/?]+)/.exec(code)?.[1] ?? code;
      event.preventDefault();
      if (serial) location.assign(`${bar.dataset.queue}shell/${encodeURIComponent(serial)}/`);
    }
    if (!form.matches("[data-keep]")) return;
    event.preventDefault();
    const tap = tapOf(form, event.submitter);
    let answer;
    let shown; // where to go, once it has been said here that the tap was taken in
    const answered = ({ word, go }) => {
      if (shown || word !== "ok" || !go) return;
      shown = go;
      done(form, tap);
    };
    try {
      answer = await floorOutbox.tap(tap, linked && !waiting.length ? answered : undefined);
    } catch {
      // Nothing can be kept on this tablet; what was sent meanwhile was taken in all the same.
      if (shown) location.assign(shown);
      else natively(form, tap.action);
      return;
    }
    if (answer.word === "kept") toQueue(KEPT);
    else if (answer.go) {
      answered(answer);
      location.assign(answer.go);
    }
    // The server answers the same tap with its page: a refusal with what was typed, or a result.
    else natively(form, tap.action);
  });

  // A kept page may be used more than once; each use is a tap of its own.
  if (keptAt) {
    const key = [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    document.querySelectorAll("form[data-keep]").forEach((form, place) => {
      form.elements.tap_key.value = `${key}${place}`;
    });
    // What was said and could be taken back then is over.
    for (const old of document.querySelectorAll("main .messages, main .undo")) old.remove();
  }

  // ---- sending

  const again = async () => {
    // Somebody left without a link: the server hears of it before anything else is shown.
    if (fromServer && remembered(SIGN_OUT)) {
      const leave = document.querySelector('form[action$="/sign-out/"]');
      if (leave) {
        leave.submit();
        return;
      }
    }
    if (waiting.length) await floorOutbox.drain()?.catch(() => {});
    else if (!linked || !live()) {
      // The queue hears of the link by its own refresh.
      const ask = fetch(bar.dataset.script, { method: "HEAD", cache: "no-store" });
      heard(await ask.then((answer) => answer.status < 500, () => false));
    }
    if (!bar.hidden) show(); // tabs tell each other of what they sent; a bar without anything to say does not stay
  };
  document.addEventListener("floor:link", (event) => heard(event.detail));
  document.addEventListener("floor:drained", () => loadedAnew() || show());
  document.addEventListener("floor:outbox", show);
  document.addEventListener("floor:sent", () => {
    document.dispatchEvent(new CustomEvent("floor:renew", { detail: location.pathname }));
  });
  window.addEventListener("offline", () => heard(false));
  window.addEventListener("online", again);
  setInterval(again, AGAIN_MS);

  // ---- pages that may be needed

  let aheadTimer;
  const ahead = () => {
    if (keptAt || !worker || !live() || !navigator.serviceWorker) return;
    clearTimeout(aheadTimer);
    aheadTimer = setTimeout(() => {
      const idle = window.requestIdleCallback ?? ((act) => setTimeout(act, 0));
      idle(async () => {
        const now = [...document.querySelectorAll('section[aria-labelledby="now-title"] a.floor-row')];
        const paths = now.slice(0, AHEAD_AT_MOST).map((link) => link.pathname);
        const { active } = await navigator.serviceWorker.ready;
        active.postMessage({ ahead: [location.pathname, ...paths] });
      });
    }, AHEAD_AFTER_MS);
  };
  document.addEventListener("floor:renewed", () => {
    marks();
    ahead();
  });

  navigator.serviceWorker?.register(bar.dataset.script, { scope: "/floor/" }).catch(() => {});
  try {
    say(sessionStorage.getItem(SAID) ?? "");
    sessionStorage.removeItem(SAID);
  } catch {
    // nothing to say
  }
  // Nobody is signed in, so nobody has to be signed out any more; whoever comes next must not be. Only the pages of a
  // station know that; the choice of stations is shown to whoever is signed in, too, and does not say so.
  if (fromServer && !worker && bar.dataset.queue) remember(SIGN_OUT, null);
  if (bar.dataset.queue) remember(QUEUE, bar.dataset.queue);
  if (toKeptQueue && remembered(QUEUE)) toKeptQueue.href = remembered(QUEUE);
  show().then(again);
  ahead();
})();
