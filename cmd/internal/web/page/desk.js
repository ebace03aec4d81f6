// The form of an attempt: files dropped onto it, progress, and what is wrong
// beside the field without losing the files. Without this the form works as well.
{
  const form = document.getElementById("add");
  if (form) {
    const $ = (id) => document.getElementById(id);
    const text = $("text").dataset, drop = $("drop");
    drop.querySelector(".drop-hint").hidden = false;

    const put = (input, file) => {
      const list = new DataTransfer();
      list.items.add(file);
      input.files = list.files;
      input.dispatchEvent(new Event("change", { bubbles: true }));
    };
    const take = (files) => {
      for (const f of files) put(/\.wav$/i.test(f.name) || f.type.startsWith("audio/") ? $("i-recording") : $("i-transcript"), f);
    };
    addEventListener("dragover", (e) => { e.preventDefault(); drop.classList.add("over"); });
    addEventListener("dragleave", (e) => { if (!e.relatedTarget) drop.classList.remove("over"); });
    addEventListener("drop", (e) => { e.preventDefault(); drop.classList.remove("over"); take(e.dataTransfer.files); });

    // What the name of the transcript says, as the command line reads it.
    $("i-transcript").addEventListener("change", (e) => {
      const f = e.target.files[0];
      if (!f) return;
      const stem = f.name.replace(/\.[^.]*$/, "").replace(/\.wav$/i, ""), day = stem.match(/(?:^|\D)(\d{4}-\d\d-\d\d)(?:\D|$)/);
      if (!$("i-student").value) $("i-student").value = stem.split(/[_ ]/)[0];
      if (day && !$("i-day").value) $("i-day").value = day[1];
      mark("transcript", "");
    });

    function mark(name, message) {
      const p = $("e-" + (name || "all")), input = $("i-" + name);
      if (!p) return mark("", message);
      p.textContent = message;
      p.hidden = !message;
      if (input) message ? input.setAttribute("aria-invalid", "true") : input.removeAttribute("aria-invalid");
      const more = p.closest("details");
      if (message && more) more.open = true;
    }
    const clear = () => form.querySelectorAll(".trouble").forEach((p) => mark(p.id.slice(2) === "all" ? "" : p.id.slice(2), ""));
    const busy = (on) => { $("go").disabled = on; $("progress").hidden = !on; };
    const step = (share, words) => {
      $("bar").value = share;
      if ($("stage").textContent !== words) $("stage").textContent = words;
    };
    function fail(failed) {
      busy(false);
      for (const [name, message] of Object.entries(failed)) mark(name, message);
      const first = form.querySelector("[aria-invalid=true]");
      if (first) first.focus();
      else $("e-all").scrollIntoView();
    }
    async function follow(job) {
      for (;;) {
        let news;
        try {
          const r = await fetch(job, { headers: { Accept: "application/json" } });
          news = await r.json();
          if (!r.ok) return fail({ "": news.error });
        } catch {
          return fail({ "": text.lost });
        }
        if (news.failed) return fail(news.failed);
        if (news.href) return location.assign(news.href);
        step(0.5 + (0.5 * news.at) / news.of, news.stage);
        await new Promise((done) => setTimeout(done, 250));
      }
    }
    form.addEventListener("submit", (e) => {
      e.preventDefault();
      clear();
      busy(true);
      step(0, text.sending);
      const x = new XMLHttpRequest(); // fetch does not tell how much is sent
      x.open("POST", form.action);
      x.setRequestHeader("Accept", "application/json");
      x.upload.addEventListener("progress", (p) => p.lengthComputable && step((0.5 * p.loaded) / p.total, text.sending));
      x.addEventListener("load", () => {
        let news = {};
        try { news = JSON.parse(x.responseText); } catch { news = { error: text.lost }; }
        if (news.job) follow(news.job);
        else fail(news.failed || { "": news.error || text.lost });
      });
      x.addEventListener("error", () => fail({ "": text.lost }));
      x.send(new FormData(form));
    });
  }
}
