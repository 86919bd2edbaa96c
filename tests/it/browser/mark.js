// Marks too small to be seen and that take no room, so that a PDF tells on which page a thing
// begins and ends: `@s3` to `@e3` a step, `@h` a heading and `@f` what follows it, `@r` a row of a
// table and `@c` the head of that table.
(() => {
  const style = document.createElement("style");
  style.textContent =
    "[data-from]::before, [data-to]::after { position: absolute; font: 1px sans-serif; letter-spacing: 0; }" +
    "[data-from]::before { content: attr(data-from); }" +
    // A head that is repeated takes along only what stands in its rows of letters.
    "thead [data-from]::before { position: static; margin-right: -3px; }" +
    "[data-to]::after { content: attr(data-to); }";
  document.head.append(style);
  const taken = e => !("from" in e.dataset) && getComputedStyle(e, "::before").content !== "none";
  const from = (e, mark) => {
    if (!taken(e) && !e.closest("svg, .screen")) e.dataset.from = (e.dataset.from || "") + " @" + mark + " ";
  };
  // The innermost element at the beginning or the end of what is seen of another.
  const inner = (e, last) => {
    for (;;) {
      const kids = [...e.children].filter(k => k.tagName !== "svg" && k.getClientRects().length && k.textContent.trim()
        && getComputedStyle(k).display !== "inline");
      if (!kids.length) return e;
      e = last ? kids[kids.length - 1] : kids[0];
    }
  };
  document.querySelectorAll("article.step").forEach((e, i) => {
    from(inner(e), "s" + i);
    const end = inner(e, true);
    if (getComputedStyle(end, "::after").content === "none") end.dataset.to = " @e" + i + " ";
  });
  document.querySelectorAll("h1, h2, h3, h4").forEach((e, i) => {
    let next = e;
    while (next && !next.nextElementSibling) next = next.parentElement;
    next = next && next.nextElementSibling;
    if (!next || !next.getClientRects().length || !e.getClientRects().length) return;
    if (next.querySelector("svg") || next.tagName === "svg") return;
    if (next.tagName === "TABLE") next = next.tBodies[0] || next;
    from(e, "h" + i);
    from(inner(next), "f" + i);
  });
  document.querySelectorAll("table").forEach((table, i) => {
    if (!table.tHead || table.closest("thead")) return;
    from(inner(table.tHead), "c" + i);
    for (const body of table.tBodies)
      for (const row of body.rows) if (row.cells.length) from(inner(row.cells[0]), "r" + i);
  });
  document.querySelectorAll("h1").forEach((e, i) => from(e, "n" + i));
})()
