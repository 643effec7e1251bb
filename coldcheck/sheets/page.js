"use strict";
(() => {
  const all = (selector, from = document) => Array.from(from.querySelectorAll(selector));

  // --- only rows with some words ---------------------------------------------------------------------------------
  const find = document.getElementById("find");
  const count = document.getElementById("count");
  let rows = null; // read when first asked for: a large page opens sooner
  const narrow = () => {
    rows ??= all(".row").map((row) => [row, row.textContent.toLowerCase()]);
    const words = find.value.toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const [row, text] of rows) {
      row.hidden = !words.every((word) => text.includes(word));
      shown += !row.hidden;
    }
    count.textContent = words.length ? `${shown} of ${rows.length} rows` : "";
  };
  find.addEventListener("input", narrow);
  // a link leads to a row that may be hidden
  addEventListener("hashchange", () => {
    const row = document.getElementById(decodeURIComponent(location.hash.slice(1)))?.closest(".row");
    if (row?.hidden) { find.value = ""; narrow(); row.scrollIntoView(); }
  });

  // --- sorted by a column ----------------------------------------------------------------------------------------
  const order = new Intl.Collator("en", { numeric: true }).compare;
  const value = (row, n) => {
    const cell = row.cells[n];
    return cell.dataset.number === undefined ? cell.textContent.trim() : Number(cell.dataset.number);
  };
  const compare = (a, b) => typeof a === "number" && typeof b === "number" ? a - b : order(String(a), String(b));
  for (const table of all("table")) {
    const body = table.tBodies[0];
    const first = Array.from(body.rows);
    all("th", table).forEach((head, n, heads) => head.firstElementChild.addEventListener("click", () => {
      const was = head.getAttribute("aria-sort");
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      let sorted = first;
      if (was !== "descending") {
        const sign = was === "ascending" ? -1 : 1;
        head.setAttribute("aria-sort", sign > 0 ? "ascending" : "descending");
        // what is empty or not known stays behind
        const blank = (row) => ["", "?"].includes(row.cells[n].textContent.trim());
        sorted = [...first].sort((a, b) =>
          blank(a) - blank(b) || (blank(a) ? 0 : sign * compare(value(a, n), value(b, n))));
      }
      body.append(...sorted);
    }));
  }

  // --- ticks and readings, kept by this browser --------------------------------------------------------------------
  const steps = all(".step");
  const done = document.getElementById("done");
  const name = (step) => `coldcheck ${step.dataset.key}`;
  let keeps = true;
  const told = () => {
    if (!done) return;
    const ticked = steps.filter((step) => step.querySelector("[type=checkbox]").checked).length;
    done.textContent = `${ticked} of ${steps.length} done` +
      (keeps ? "" : "; this browser keeps nothing: it will be forgotten when the page is left");
  };
  const keep = (step) => {
    const [tick, ...read] = all("input", step);
    step.classList.toggle("ticked", tick.checked);
    try {
      const said = read.map((one) => one.value);
      if (tick.checked || said.some(Boolean)) localStorage.setItem(name(step), JSON.stringify([tick.checked, ...said]));
      else localStorage.removeItem(name(step));
    } catch { keeps = false; }
    told();
  };
  for (const step of steps) {
    const [tick, ...read] = all("input", step);
    try {
      const [ticked, ...said] = JSON.parse(localStorage.getItem(name(step))) ?? [false];
      tick.checked = ticked;
      read.forEach((one, n) => { one.value = said[n] ?? ""; });
    } catch { keeps = false; }
    step.classList.toggle("ticked", tick.checked);
    step.addEventListener("input", () => keep(step));
  }
  document.getElementById("forget")?.addEventListener("click", () => {
    if (!confirm("Forget all ticks and readings of this page?")) return;
    for (const step of steps) {
      const [tick, ...read] = all("input", step);
      tick.checked = false;
      read.forEach((one) => { one.value = ""; });
      keep(step);
    }
  });
  told();
})();
