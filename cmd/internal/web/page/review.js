// The review: one key for each decision, sent one after the other and kept by the
// window until the desk has them.
const $ = (id) => document.getElementById(id);
const root = $("review"), marks = $("marks"), audio = $("audio");
const texts = JSON.parse($("texts").textContent);
const say = (key, put = {}) => {
  $("say").textContent = texts[key].replace(/\{(\w+)\}/g, (all, name) => (name in put ? put[name] : all));
};

// Entries and the one at hand.
const entries = () => [...marks.querySelectorAll(".entry")];
const entryOf = (item) => entries().find((e) => e.dataset.item === item);
let current = null; // its item
const at = () => (current === null ? null : entryOf(current));
const undecided = (e) => "doubtful" in e.dataset && !e.classList.contains("sending");

function dress(e) {
  e.querySelectorAll(".play").forEach((b) => (b.hidden = false));
  e.querySelectorAll(".reason").forEach((r) => (r.hidden = true));
  e.querySelectorAll(".save").forEach((b) => (b.hidden = false));
}
function go(e, focus = true) {
  const old = at();
  if (old && old !== e) {
    old.classList.remove("current");
    if (focus) old.querySelector("details").open = false;
  }
  current = e.dataset.item;
  e.classList.add("current");
  if (!focus) return;
  e.querySelector("details").open = true;
  e.querySelector("summary").focus({ preventScroll: true });
  const box = e.getBoundingClientRect(), top = (innerWidth < 992 ? $("player") : $("say")).getBoundingClientRect().height + 8;
  if (box.top < top || box.bottom > innerHeight) scrollBy({ top: box.top - top - 40 });
}
// Most entries come without what is behind their mark.
async function whole(e) {
  if (!("later" in e.dataset)) return e;
  const r = await fetch(`/attempts/${root.dataset.id}/entry?${new URLSearchParams({ item: e.dataset.item })}`, { headers: { Accept: "application/json" } });
  if (r.ok) replace(await r.json());
  return entryOf(e.dataset.item);
}
marks.addEventListener("toggle", (ev) => {
  const e = ev.target.closest(".entry");
  if (ev.target.open && e) whole(e).catch(() => say("waits"));
}, true);
function step(by) {
  const list = entries(), i = list.indexOf(at());
  const e = list[i < 0 ? 0 : i + by];
  if (e) go(e);
}
function onward() {
  const list = entries(), i = list.indexOf(at());
  const next = list.slice(i + 1).find(undecided) || list.find(undecided);
  if (next) {
    go(next);
    if ($("onward").checked) hear(next);
    return;
  }
  if ($("done")) {
    $("done").hidden = false;
    if (list[i] && list[i].parentElement.getAttribute("aria-labelledby") === "h-first") $("done").focus();
  }
}

// Hearing.
const sound = () => audio && audio.hasAttribute("src");
function hear(e) {
  if (!sound()) return say("nosound");
  if (Number(e.dataset.from) < 0) return say("noplace");
  document.dispatchEvent(new CustomEvent("hear", { detail: { from: Number(e.dataset.from), until: Number(e.dataset.until) } }));
}
document.addEventListener("click", (ev) => {
  if (!sound() && ev.target.closest(".hear, .lane")) say("nosound");
});
const give = $("give");
if (give) {
  let address = "";
  give.addEventListener("change", () => {
    if (!give.files[0]) return;
    if (address) URL.revokeObjectURL(address);
    address = URL.createObjectURL(give.files[0]);
    document.dispatchEvent(new CustomEvent("given", { detail: address }));
  });
}

// Deciding. The list is what the desk does not have yet; undo has what stood
// before each decision.
const drawer = "markaround-unkept-" + root.dataset.id;
let waiting = [], sending = false, wait = 0;
const undo = [];
const store = () => {
  try {
    waiting.length ? sessionStorage.setItem(drawer, JSON.stringify(waiting)) : sessionStorage.removeItem(drawer);
  } catch { /* without it only a page loaded anew loses what waits */ }
};
function who() {
  if (root.dataset.who) return true;
  const first = $("who-now") || $("who");
  first.focus();
  return false;
}
function decide(e, mark, why) {
  if (!who()) return;
  undo.push({ item: e.dataset.item, mark: e.dataset.stands, why: e.dataset.why });
  put(e, mark, why);
  onward();
}
function put(e, mark, why) {
  e.classList.add("sending");
  waiting.push({ item: e.dataset.item, mark, why });
  store();
  send();
}
function takeBack() {
  if (!who()) return;
  let last = undo.pop();
  const e = last ? entryOf(last.item) : at();
  if (!last && e && e.dataset.stands) last = { item: e.dataset.item, mark: "", why: "" };
  if (!last || !e) return say("nothing");
  put(e, last.mark, last.why);
  go(e);
}
async function send() {
  if (sending) return;
  sending = true;
  while (waiting.length) {
    const d = waiting[0];
    let r, news;
    try {
      r = await fetch(`/attempts/${root.dataset.id}/marks`, {
        method: "POST",
        headers: { Accept: "application/json" },
        body: new URLSearchParams({ token: root.dataset.token, item: d.item, mark: d.mark, why: d.why, seen: root.dataset.seen, marked: root.dataset.marked }),
      });
      news = await r.json();
    } catch {
      say("waits");
      wait = Math.min(wait ? wait * 2 : 500, 5000);
      await new Promise((done) => setTimeout(done, wait));
      continue;
    }
    if (!("seen" in news)) { // the page is too old, or the passphrase is asked for
      $("say").textContent = `${news.error || ""} ${texts.stop}`;
      break;
    }
    waiting.shift();
    store();
    const lost = wait > 0;
    wait = 0;
    apply(news);
    const e = entryOf(d.item);
    if (e && !waiting.some((w) => w.item === d.item)) e.classList.remove("sending");
    if (news.error) refuse(d, news);
    else if (lost && !waiting.length) say("again");
    else if (d.mark === "") say("undone", { title: e.dataset.title });
    else say("kept", { title: e.dataset.title, mark: texts[d.mark], n: news.left });
  }
  sending = false;
}
function refuse(d, news) {
  const i = undo.findLastIndex((u) => u.item === d.item);
  if (i >= 0) undo.splice(i, 1);
  $("say").textContent = news.error;
  const e = entryOf(d.item);
  if (!e) return;
  go(e);
  const p = e.querySelector(".decide .trouble");
  p.textContent = news.error;
  p.hidden = false;
}
// An entry in place of the one before it.
function replace({ item, html }) {
  const old = entryOf(item);
  if (!old) return;
  const open = old.querySelector("details").open, focus = old.contains(document.activeElement), box = old.querySelector("[name=why]"), typed = box ? box.value : "";
  old.insertAdjacentHTML("afterend", html);
  const e = old.nextElementSibling;
  old.remove();
  dress(e);
  e.querySelector("details").open = open;
  if (typed && !old.querySelector(".reason").hidden) ask(e, old.dataset.asked, typed);
  if (waiting.some((w) => w.item === item)) e.classList.add("sending");
  if (item === current) e.classList.add("current");
  if (focus) e.querySelector("summary").focus({ preventScroll: true });
}
// What the desk says has become of the attempt.
function apply(news) {
  root.dataset.seen = news.seen; // and not marked: what was marked anew must be loaded
  $("facts").innerHTML = news.facts;
  news.entries.forEach(replace);
}
async function look() {
  if (sending || document.hidden) return;
  try {
    const r = await fetch(`/attempts/${root.dataset.id}/state?seen=${root.dataset.seen}`, { headers: { Accept: "application/json" } });
    const news = await r.json();
    if (r.ok && !sending && (news.entries.length || news.marked !== root.dataset.marked)) {
      apply(news);
      if (news.marked === root.dataset.marked) say("others");
      else say("regraded");
    }
  } catch { /* the next decision will tell */ }
}
addEventListener("focus", look);
document.addEventListener("visibilitychange", look);
addEventListener("beforeunload", (e) => { if (waiting.length) e.preventDefault(); });

// A mark other than the program's wants a reason.
async function ask(e, mark, typed = "") {
  e = await whole(e);
  const reason = e.querySelector(".reason"), input = reason.querySelector("input");
  e.dataset.asked = mark;
  reason.hidden = false;
  reason.querySelector(".save").textContent = `${texts.keep}: ${texts[mark]}`;
  reason.querySelector(".save").value = mark;
  input.value = typed;
  input.focus();
  say("why", { mark: texts[mark] });
}
function give_mark(e, mark) {
  if (mark === "") {
    if (who()) put(e, "", "");
  } else if (mark === e.dataset.machine) decide(e, mark, "");
  else if (mark === e.dataset.mark && e.dataset.stands) return; // it stands
  else if (who()) ask(e, mark);
}
marks.addEventListener("click", (ev) => {
  const e = ev.target.closest(".entry"), b = ev.target.closest("button");
  if (!e) return;
  go(e, false);
  if (!b || !b.closest(".decide")) return;
  if (b.matches(".save")) {
    ev.preventDefault();
    answer(b.form);
  } else if (b.matches(".play")) hear(e);
  else if (b.matches("[name=mark]")) {
    ev.preventDefault();
    give_mark(e, b.value);
  }
});
function answer(form) {
  const e = form.closest(".entry"), input = form.elements.why, why = input.value.trim(), p = form.querySelector(".trouble");
  if (!e.dataset.asked) return;
  p.hidden = !!why;
  if (!why) {
    p.textContent = texts.needed;
    return input.focus();
  }
  e.querySelector(".reason").hidden = true;
  decide(e, e.dataset.asked, why);
}
marks.addEventListener("focusin", (ev) => {
  const e = ev.target.closest(".entry");
  if (e && e.dataset.item !== current) go(e, false);
});

// Keys, which can be switched off.
try {
  $("keys").checked = localStorage.getItem("markaround-keys") !== "off";
  $("onward").checked = localStorage.getItem("markaround-onward") === "on";
} catch { /* as they are */ }
for (const [id, on, off] of [["keys", "on", "off"], ["onward", "on", "off"]])
  $(id).addEventListener("change", (e) => { try { localStorage.setItem("markaround-" + id, e.target.checked ? on : off); } catch { /* for this page alone */ } });

const markOf = { s: "said", p: "partly", w: "wrong", m: "missed" };
addEventListener("keydown", (ev) => {
  const on = ev.target, e = at();
  if (ev.ctrlKey || ev.metaKey || ev.altKey) return;
  if (on.matches("[name=why]") && (ev.key === "Escape" || ev.key === "Enter")) {
    ev.preventDefault();
    if (ev.key === "Enter") return answer(on.form);
    on.closest(".reason").hidden = true;
    on.closest(".entry").querySelector("summary").focus();
    return;
  }
  if (!$("keys").checked || on.matches("select, textarea, input:not([type=checkbox], [type=range])")) return;
  const key = ev.key.toLowerCase();
  if (key === " " && on.matches("button, a[href], input, details:not(.item) > summary")) return;
  if (key.startsWith("arrow") && on.matches("input, select, .words, .words *")) return;
  if (key === "j" || key === "arrowdown") step(1);
  else if (key === "k" || key === "arrowup") step(-1);
  else if (key === "u") takeBack();
  else if (key === "arrowleft" || key === "arrowright") {
    if (!sound()) return;
    audio.currentTime = Math.max(0, audio.currentTime + (key === "arrowleft" ? -5 : 5));
  } else if (!e) return;
  else if (key === " ") sound() && !audio.paused ? audio.pause() : hear(e);
  else if (key === "a" && !("finding" in e.dataset)) e.dataset.stands ? onward() : decide(e, e.dataset.machine, "");
  else if (key === "x" && "finding" in e.dataset) give_mark(e, "none");
  else if (markOf[key] && !("finding" in e.dataset)) give_mark(e, markOf[key]);
  else return;
  ev.preventDefault();
});

// Your id, without losing the page.
const first = $("who-first");
if (first) first.addEventListener("submit", async (ev) => {
  ev.preventDefault();
  const r = await fetch("/who", { method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams(new FormData(first)) });
  const news = await r.json();
  if (!r.ok) return ($("say").textContent = news.error);
  root.dataset.who = news.who;
  if ($("who")) $("who").value = news.who;
  first.remove();
  send();
  if (at()) at().querySelector("summary").focus();
});

entries().forEach(dress);
try {
  waiting = JSON.parse(sessionStorage.getItem(drawer)) || [];
} catch { waiting = []; }
for (const d of waiting) entryOf(d.item)?.classList.add("sending");
const begin = entries().find(undecided) || entries()[0];
if (begin) go(begin, !location.hash && !first);
if (first) $("who-now").focus();
else send();
