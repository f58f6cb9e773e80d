// Listening: one desk for the takes of a passage, and noteheads that follow it.
const hear = (() => {
  const desks = [];
  const stamp = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;

  const make = (tag, attributes, ...children) => {
    const node = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
    node.append(...children);
    return node;
  };

  const desk = (box, count) => {
    const cues = JSON.parse(box.dataset.cues);
    const takes = [...box.querySelectorAll("audio")];
    const words = [...box.querySelectorAll(".takes span")].map((s) => s.textContent);
    const drawing = box.closest("article").querySelector("svg.excerpt");
    const heads = [...cues.line, ...cues.covers].flatMap(([id, on, off]) => {
      const node = drawing && document.getElementById(id);
      return node ? [{ node, on, off: Math.max(off, on + 0.12) }] : [];
    });
    const steps = [...new Set(cues.line.map((head) => head[1]))].sort((a, b) => a - b);
    let sound = takes[0];

    const play = make("button", { type: "button", class: "go" }, "Play");
    const place = make("input", { type: "range", class: "at", min: 0, max: 100, step: "any", value: 0,
      "aria-label": "Place in the passage" });
    const time = make("span", { class: "at-time", "aria-hidden": "true" });
    const which = make("fieldset", { class: "which" }, make("legend", { class: "unseen" }, "Take"));
    takes.forEach((take, i) => {
      const radio = make("input", { type: "radio", name: `take-${count}`, value: i });
      radio.checked = i === 0;
      radio.addEventListener("change", () => change(take));
      which.append(make("label", {}, radio, ` ${words[i]}`));
    });
    box.prepend(make("div", { class: "desk" }, play, which, place, time));
    box.classList.add("live");

    const length = () => (Number.isFinite(sound.duration) ? sound.duration : 0);
    const barAt = (at) => {
      const bar = cues.bars.filter((b) => b[2] <= at + 0.02).pop();
      return bar ? `bar ${bar[1]}` : "";
    };
    const show = () => {
      const at = sound.currentTime;
      place.max = length() || 100;
      place.value = at;
      place.setAttribute("aria-valuetext", `${stamp(at)}, ${barAt(at)}`);
      time.textContent = `${stamp(at)} ${barAt(at)}`;
      const moving = at > 0 || !sound.paused;
      let last = null;
      for (const head of heads) {
        const now = moving && head.on <= at + 0.02 && at < head.off;
        head.node.classList.toggle("now", now);
        if (now) last = head;
      }
      if (last && !sound.paused) follow(last.node);
    };
    const follow = (node) => {
      const window_ = drawing.parentElement;
      const a = node.getBoundingClientRect();
      const b = window_.getBoundingClientRect();
      if (a.left < b.left + 20 || a.right > b.right - 20) {
        window_.scrollLeft += a.left - b.left - b.width / 3;
      }
    };
    const run = () => {
      show();
      if (!sound.paused) requestAnimationFrame(run);
    };
    const load = (take) => {
      takes.forEach((t) => { t.preload = "auto"; });
      return take.readyState ? Promise.resolve() : new Promise((done) => {
        take.addEventListener("loadedmetadata", done, { once: true });
        take.load();
      });
    };
    const go = async (at) => {
      await load(sound);
      for (const other of desks) if (other !== self) other.stop();
      if (at !== undefined) sound.currentTime = Math.min(at, Math.max(0, length() - 0.05));
      else if (sound.ended) sound.currentTime = 0;
      await sound.play().catch(() => {});
    };
    const seek = async (at) => {
      await load(sound);
      sound.currentTime = Math.max(0, Math.min(at, length()));
    };
    const change = async (take) => {
      const was = !sound.paused;
      const at = sound.currentTime;
      sound.pause();
      sound = take;
      await seek(at);
      if (was) await go(at);
      show();
    };
    const stop = () => takes.forEach((take) => take.pause());

    takes.forEach((take) => {
      take.addEventListener("play", () => { play.textContent = "Stop"; run(); });
      take.addEventListener("pause", () => { play.textContent = "Play"; show(); });
      take.addEventListener("seeked", show);
      take.addEventListener("loadedmetadata", show);
    });
    play.addEventListener("click", () => (sound.paused ? go() : stop()));
    place.addEventListener("input", () => seek(Number(place.value)));
    place.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
      if (!step || !steps.length) return;
      event.preventDefault();
      const at = sound.currentTime;
      const next = step > 0 ? steps.find((s) => s > at + 0.03) : steps.findLast((s) => s < at - 0.03);
      if (next !== undefined) seek(next);
    });
    if (drawing) {
      for (const head of heads) head.node.classList.add("can-start");
      drawing.addEventListener("click", (event) => {
        const node = event.target.closest(".can-start");
        const head = heads.find((h) => h.node === node);
        if (head) go(head.on);
      });
    }
    const self = { stop, go, bars: cues.bars, article: box.closest("article"), length };
    desks.push(self);
    show();
  };

  document.querySelectorAll(".hear").forEach(desk);

  // Plays a bar (index on the played axis), of this finding if it can; says whether it could.
  const canPlay = (bar, id) => {
    const holding = desks.filter((d) => d.bars.some((b) => b[0] === bar));
    return holding.find((d) => d.article.id === id) || holding[0];
  };
  const playBar = (bar, id) => {
    const found = canPlay(bar, id);
    if (found) found.go(found.bars.find((b) => b[0] === bar)[2]);
  };
  return { canPlay, playBar, stop: () => desks.forEach((d) => d.stop()) };
})();
