"use strict";
// The page is whole without this; it adds arrow keys in the picture, a sentence for the
// cell in hand, and opens what a link points at.
(() => {
  const names = [...document.querySelectorAll("#names li")].map((li) => li.textContent);
  const reading = document.querySelector(".reading");

  const describe = (cell) => {
    const td = cell.parentElement;
    const row = td.parentElement;
    const head = row.closest("table").tHead.rows[0].cells[td.cellIndex];
    const bar = head.firstChild.textContent;
    let words = `${row.cells[0].textContent}, bar ${bar}: ${cell.getAttribute("aria-label")}`;
    if (cell.dataset.r) words += `; ${cell.dataset.r} of its own loudness is left`;
    if (cell.dataset.c) words += `, most of the covering by ${names[cell.dataset.c - 1]}`;
    if (head.classList.contains("shaky")) words += "; the place of this bar is uncertain";
    const found = /^#finding-(\d+)$/.exec(cell.getAttribute("href"));
    return `${words}.${found ? ` Finding ${found[1]}.` : ""}`;
  };

  const show = (cell) => {
    reading.hidden = false;
    reading.textContent = describe(cell);
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

  for (const table of document.querySelectorAll(".grid")) {
    const cells = [...table.querySelectorAll("a.cell")];
    cells.forEach((cell, i) => { cell.tabIndex = i ? -1 : 0; });
    table.addEventListener("keydown", (event) => {
      const move = moves[event.key];
      if (!move || event.altKey || event.ctrlKey || event.metaKey) return;
      event.preventDefault();
      const next = move(event.target);
      if (!next) return;
      event.target.tabIndex = -1;
      next.tabIndex = 0;
      next.focus();
    });
    table.addEventListener("focusin", (event) => {
      if (event.target.matches("a.cell")) show(event.target);
    });
    table.addEventListener("pointerover", (event) => {
      if (event.target.matches("a.cell")) show(event.target);
    });
  }

  const open = () => {
    const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (!target) return;
    const closed = target.closest("details:not([open])");
    if (closed) closed.open = true;
    target.scrollIntoView();
    target.focus({ preventScroll: true });
  };
  window.addEventListener("hashchange", open);
  open();

  // One clip at a time.
  document.addEventListener("play", (event) => {
    for (const audio of document.querySelectorAll("audio")) {
      if (audio !== event.target) audio.pause();
    }
  }, true);
})();
