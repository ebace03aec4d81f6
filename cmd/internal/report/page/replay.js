
// The student's page: the player, the strip, and the words as they are heard.
{
  const lead = 1.5; // seconds heard before a mark
  const $ = (id) => document.getElementById(id);
  const player = $("audio"), lanes = $("lanes");
  let audio = player && player.hasAttribute("src") ? player : null; // none until one is given
  let until = Infinity; // where to halt
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const clock = (t) => {
    const n = Math.max(0, Math.floor(t)), pad = (k) => String(k).padStart(2, "0");
    return n >= 3600 ? `${Math.floor(n / 3600)}:${pad(Math.floor(n / 60) % 60)}:${pad(n % 60)}` : `${Math.floor(n / 60)}:${pad(n % 60)}`;
  };
  document.querySelectorAll(".bar, .tools, .follow").forEach((e) => (e.hidden = false));

  // Marks to halt at, in order of time, and how far they were gone through.
  const stops = [...document.querySelectorAll("a.stop")].map((a) => ({ a, at: Number(a.dataset.at), text: a.querySelector("title").textContent }));
  stops.sort((a, b) => a.at - b.at);
  let halt = -1;
  const show = (i) => {
    halt = i;
    document.querySelectorAll("a.here").forEach((a) => a.classList.remove("here"));
    const s = stops[i];
    if (s) s.a.classList.add("here");
    $("here").textContent = s ? `${i + 1} of ${stops.length}: ${s.text}` : "";
  };
  const go = (i) => {
    if (i < 0 || i >= stops.length) {
      $("here").textContent = stops.length ? (i < 0 ? "That was the first mark." : "That was the last mark.") : "There are no marks to go to.";
      return;
    }
    show(i);
    if (audio) hear(stops[i].at - lead);
    else if (stops[i].a.getAttribute("href")) location.replace(stops[i].a.getAttribute("href"));
  };
  // From where the player is: a mark that is just being heard is not its own next one.
  const step = (by) => {
    if (audio && !(halt >= 0 && Math.abs(audio.currentTime + lead - stops[halt].at) < 4)) {
      const after = stops.findIndex((s) => s.at > audio.currentTime + lead);
      const next = after < 0 ? stops.length : after;
      return go(by > 0 ? next : next - 1);
    }
    go(halt + by);
  };
  $("next").addEventListener("click", () => step(1));
  $("previous").addEventListener("click", () => step(-1));

  // A mouse click leaves no focus behind, so that Space goes on to play and pause.
  addEventListener("click", (e) => {
    const b = e.target.closest && e.target.closest("button");
    if (b && e.detail > 0) b.blur();
  });

  // The keys of the review, as far as they go here. A page with keys of its own says so.
  if (document.body.dataset.keys !== "own") addEventListener("keydown", (e) => {
    const on = e.target;
    if (e.ctrlKey || e.metaKey || e.altKey || on.matches("select, input:not([type=range]):not([type=checkbox]), textarea")) return;
    const key = e.key.toLowerCase();
    if ((key === "arrowdown" || key === "arrowup") && on.matches("input, .words, .words *")) return; // they move what has the focus
    if (key === "j" || key === "arrowdown") step(1);
    else if (key === "k" || key === "arrowup") step(-1);
    else if (!audio) return;
    else if (key === " " && !on.matches("button, summary, a[href], input[type=checkbox]")) toggle();
    else if (key === "arrowleft") skip(-5);
    else if (key === "arrowright") skip(5);
    else return;
    e.preventDefault();
  });

  function hear(t, end = Infinity) {
    until = end;
    audio.currentTime = Math.max(0, t);
    const p = audio.play();
    if (p) p.catch((err) => { if (err.name !== "AbortError") $("here").textContent = "The browser does not play this recording; is it in the same folder as the page?"; });
    draw();
  }
  function toggle() {
    if (audio.paused) hear(audio.currentTime);
    else audio.pause();
  }
  function skip(by) {
    audio.currentTime = Math.max(0, Math.min(audio.currentTime + by, length()));
    draw();
  }
  function length() { return isFinite(audio.duration) ? audio.duration : Number(lanes.dataset.seconds); }

  // Words with their times, in order.
  let words = null, lit = -1;
  function load() {
    words = [];
    document.querySelectorAll(".words li").forEach((li) => {
      const t = li.dataset.t.split(" ").map(Number);
      li.querySelectorAll("span[id^=w-]").forEach((span, i) => words.push({ span, start: t[2 * i] / 100, end: t[2 * i + 1] / 100 }));
    });
  }
  function light(t) {
    let lo = 0, hi = words.length;
    while (lo < hi) {
      const mid = (lo + hi) >> 1;
      if (words[mid].start <= t) lo = mid + 1;
      else hi = mid;
    }
    const i = lo > 0 && t < words[lo - 1].end + 0.6 ? lo - 1 : -1;
    if (i === lit) return;
    if (lit >= 0) words[lit].span.classList.remove("now");
    lit = i;
    if (i < 0) return;
    words[i].span.classList.add("now");
    if (!$("follow").checked) return;
    const box = document.querySelector(".words"), b = box.getBoundingClientRect(), w = words[i].span.getBoundingClientRect();
    if (w.top < b.top + 8 || w.bottom > b.bottom - 40) box.scrollBy({ top: w.top - b.top - 60, behavior: calm.matches || Math.abs(w.top - b.top) > 2 * b.height ? "auto" : "smooth" });
  }

  // Marks lie close, so a click is for the one that it is nearest to.
  function nearest(lane, e) {
    let best = null, least = 9;
    lane.querySelectorAll("a[data-at]").forEach((a) => {
      const box = a.querySelector(".hit").getBoundingClientRect(), off = Math.abs((box.left + box.right) / 2 - e.clientX);
      if (off < least || (off === least && a.matches(".stop"))) [best, least] = [a, off];
    });
    return best;
  }

  function draw() {
    const t = audio.currentTime, x = (100 * Math.min(t / Number(lanes ? lanes.dataset.seconds : 1), 1)).toFixed(3) + "%";
    document.querySelectorAll(".playhead").forEach((l) => { l.setAttribute("x1", x); l.setAttribute("x2", x); });
    if (t >= until) {
      until = Infinity;
      audio.pause();
    }
    $("now").textContent = clock(t);
    $("place").value = t;
    $("place").setAttribute("aria-valuetext", clock(t) + " of " + clock(length()));
    if (words.length) light(t);
  }

  function start() {
    load();
    document.body.dataset.play = "";
    if (lanes) lanes.dataset.play = ""; // no lanes: an attempt without a time
    audio.controls = false;
    // Not every browser can seek in a data: address; all can in a blob.
    if (audio.src.startsWith("data:")) {
      const text = atob(audio.src.slice(audio.src.indexOf(",") + 1)), bytes = new Uint8Array(text.length);
      for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
      audio.src = URL.createObjectURL(new Blob([bytes], { type: audio.src.slice(5, audio.src.indexOf(";")) }));
    }
    const known = () => {
      $("place").max = length();
      $("whole").textContent = clock(length());
      draw();
    };
    audio.addEventListener("loadedmetadata", known);
    audio.addEventListener("error", () => ($("here").textContent = "The recording cannot be opened; keep it in the same folder as this page, under its own name."));
    audio.addEventListener("timeupdate", draw);
    audio.addEventListener("seeked", draw);
    const tell = () => {
      $("toggle").textContent = audio.paused ? "Play" : "Pause";
      if (!audio.paused) requestAnimationFrame(tick);
    };
    const tick = () => {
      if (audio.paused) return;
      draw();
      requestAnimationFrame(tick);
    };
    ["play", "pause", "ended"].forEach((e) => audio.addEventListener(e, tell));
    if (audio.readyState > 0) known();

    $("toggle").addEventListener("click", toggle);
    $("back").addEventListener("click", () => skip(-5));
    $("ahead").addEventListener("click", () => skip(5));
    $("place").addEventListener("input", (e) => { audio.currentTime = Number(e.target.value); draw(); });
    $("speed").addEventListener("change", (e) => (audio.playbackRate = Number(e.target.value)));
    document.addEventListener("click", (e) => {
      const lane = e.target.closest("#lanes .lane"), word = e.target.closest(".words span[id^=w-]");
      const mark = lane ? nearest(lane, e) : e.target.closest("[data-at]");
      if (mark) {
        e.preventDefault();
        show(stops.findIndex((s) => s.a === mark));
        hear(Number(mark.dataset.at) - lead);
      } else if (word) {
        hear(words.find((w) => w.span === word).start);
      } else if (lane) {
        const box = lane.getBoundingClientRect();
        hear(((e.clientX - box.left) / box.width) * Number(lanes.dataset.seconds));
      }
    });
    draw();
  }

  if (audio) start();
  // For pages that have more than this one: "given" brings the address of a
  // recording, "hear" asks for a stretch of it.
  document.addEventListener("given", (e) => {
    player.src = e.detail;
    if (!audio) {
      audio = player;
      start();
    }
  });
  document.addEventListener("hear", (e) => {
    if (audio) hear(e.detail.from, e.detail.until);
  });

  const cover = $("cover");
  if (cover) {
    const cards = () => document.querySelectorAll("details.card");
    cover.addEventListener("click", () => {
      const on = cover.getAttribute("aria-pressed") !== "true";
      cover.setAttribute("aria-pressed", on);
      cards().forEach((d) => (d.open = !on));
    });
    let covered = [];
    addEventListener("beforeprint", () => {
      covered = [...cards()].filter((d) => !d.open);
      covered.forEach((d) => (d.open = true));
    });
    addEventListener("afterprint", () => covered.forEach((d) => (d.open = false)));
    $("print").addEventListener("click", () => print());
  }
}
