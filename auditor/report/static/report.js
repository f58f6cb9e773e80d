// The page is whole without this; it adds arrow keys and figures in the picture, sifts and
// orders the findings, and opens what a link points at.
(() => {
  const names = [...document.querySelectorAll("#names li")].map((li) => li.textContent);
  const reading = document.querySelector(".reading");
  const map = document.getElementById("map");
  const [listen, to, shut] = [".listen", ".to", ".shut"].map((s) => reading.querySelector(s));
  let chosen = null;

  const headOf = (cell) => cell.closest("table").tHead.rows[0].cells[cell.parentElement.cellIndex];

  const describe = (cell) => {
    const head = headOf(cell);
    const name = cell.closest("tr").cells[0].textContent;
    let words = `${name}, bar ${head.firstChild.textContent}: ${cell.getAttribute("aria-label")}`;
    if (cell.dataset.r) {
      const left = cell.dataset.r === "0.00" ? "less than 0.01" : cell.dataset.r;
      words += `; ${left} of its own loudness is left, margin ${cell.dataset.m} dB`;
    }
    if (cell.dataset.c) words += `, most of the covering by ${names[cell.dataset.c - 1]}`;
    if (head.classList.contains("shaky")) words += "; the place of this bar is uncertain";
    return `${words}.`;
  };

  const show = (cell) => {
    const href = cell.getAttribute("href");
    const head = headOf(cell);
    const number = head.firstChild.textContent;
    const bar = Number(head.dataset.bar);
    const found = /^#finding-(\d+)$/.exec(href);
    reading.hidden = false;
    reading.querySelector(".words").textContent = describe(cell);
    to.setAttribute("href", href);
    to.textContent = found ? `Finding ${found[1]}` : `Bar ${number} in the table`;
    listen.hidden = !hear.canPlay(bar, href.slice(1));
    listen.textContent = `Hear bar ${number}`;
    listen.onclick = () => hear.playBar(bar, href.slice(1));
  };

  const choose = (cell) => {
    if (chosen) chosen.classList.remove("chosen");
    chosen = cell;
    cell.classList.add("chosen");
    show(cell);
    (listen.hidden ? to : listen).focus({ preventScroll: true });
  };

  const leave = () => {
    reading.hidden = true;
    hear.stop();
    if (!chosen) return;
    chosen.classList.remove("chosen");
    chosen.focus();
    chosen = null;
    reading.hidden = true;
  };

  const step = (cell, right, down) => {
    let td = cell.parentElement;
    for (;;) {
      const row = td.parentElement;
      const next = down ? row.parentElement.rows[row.sectionRowIndex + down] : row;
      td = next && next.cells[td.cellIndex + right];
      if (!td || td.tagName === "TH") return null;
      const found = td.querySelector("a");
      if (found) return found;
    }
  };

  const edge = (cell, last) => {
    const cells = [...cell.closest("tr").querySelectorAll("a")];
    return last ? cells[cells.length - 1] : cells[0];
  };

  const moves = {
    ArrowRight: (c) => step(c, 1, 0),
    ArrowLeft: (c) => step(c, -1, 0),
    ArrowDown: (c) => step(c, 0, 1),
    ArrowUp: (c) => step(c, 0, -1),
    Home: (c) => edge(c, false),
    End: (c) => edge(c, true),
  };

  for (const table of map.querySelectorAll(".grid")) {
    table.querySelectorAll("a.cell").forEach((cell, i) => { cell.tabIndex = i ? -1 : 0; });
  }
  map.addEventListener("keydown", (event) => {
    const move = event.target.matches("a.cell") && moves[event.key];
    if (!move || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    const next = move(event.target);
    if (!next) return;
    event.target.tabIndex = -1;
    next.tabIndex = 0;
    next.focus();
  });
  const look = (event) => {
    const cell = event.target.closest("a.cell");
    if (cell && !chosen) show(cell);
  };
  map.addEventListener("focusin", look);
  map.addEventListener("pointerover", look);
  map.addEventListener("click", (event) => {
    const cell = event.target.closest("a.cell");
    if (!cell) return;
    event.preventDefault();
    choose(cell);
  });
  shut.addEventListener("click", leave);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && !reading.hidden) leave();
  });
  to.addEventListener("click", () => { reading.hidden = true; });

  const sizes = document.querySelector(".sizes");
  sizes.hidden = false;
  sizes.addEventListener("change", (event) => { map.className = event.target.value; });

  const sift = document.querySelector(".sift");
  if (sift) {
    const lists = [...document.querySelectorAll(".list")];
    const all = lists.flatMap((list) => [...list.children]);
    const fits = (data) =>
      (!sift.kind.value || data.kind === sift.kind.value)
      && (!sift.families.value || data.families.split(" ").includes(sift.families.value))
      && Number(data.weight) >= Number(sift.weight.value);
    const arrange = () => {
      const by = sift.order.value === "place"
        ? (a, b) => a.dataset.place - b.dataset.place
        : (a, b) => b.dataset.weight - a.dataset.weight;
      for (const list of lists) list.append(...[...list.children].sort(by));
      for (const one of all) one.hidden = !fits(one.dataset);
      const left = all.filter((one) => !one.hidden).length;
      sift.querySelector("output").textContent =
        left === all.length ? "" : `${left} of ${all.length} findings`;
    };
    sift.hidden = false;
    sift.addEventListener("change", arrange);
    sift.addEventListener("submit", (event) => event.preventDefault());
  }

  // What comes near is laid out only then, and moves what is below it: look again.
  const arrive = (target, times) => {
    target.scrollIntoView();
    if (times) requestAnimationFrame(() => arrive(target, times - 1));
  };

  const open = () => {
    const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (!target) return;
    const closed = target.closest("details:not([open])");
    if (closed) closed.open = true;
    const sifted = target.closest("article[hidden]");
    if (sifted) sifted.hidden = false;
    arrive(target, 8);
    target.focus({ preventScroll: true });
  };
  window.addEventListener("hashchange", open);
  open();

  // Paper has no folds; long tables that lie beside the report as files stay there.
  window.addEventListener("beforeprint", () => {
    for (const fold of document.querySelectorAll("details:not([open]):not([data-file])")) {
      fold.open = true;
      fold.dataset.opened = "";
    }
  });
  window.addEventListener("afterprint", () => {
    for (const fold of document.querySelectorAll("details[data-opened]")) fold.open = false;
  });
})();
