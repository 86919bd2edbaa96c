// What does not fit, measured in the page as it is laid out for paper; `wide` looks at the parts
// that are printed across, otherwise at all others. Gives one fault a row.
(wide => {
  const faults = [];
  const words = e => e.textContent.replace(/\s+/g, " ").trim().slice(0, 70);
  const here = e => !!e.closest(".wide, .paper.timeline, .paper.stage-diagrams") === wide && !e.closest(".screen, .draft");
  const all = selector => [...document.querySelectorAll(selector)].filter(here);
  const paper = wide ? 1017 : 688, sheet = wide ? 703 : 997;
  for (const e of all("body *")) {
    if (e.closest("svg") || !e.clientWidth || getComputedStyle(e).display === "inline") continue;
    if (e.scrollWidth > e.clientWidth + 1) faults.push("cut: " + e.tagName + " " + words(e));
  }
  for (const b of all(".box, .fill")) {
    const r = b.getBoundingClientRect();
    const c = b.closest("td, th, p, div, li, article, section").getBoundingClientRect();
    if (r.left < c.left - 1 || r.right > c.right + 1 || r.top < c.top - 1 || r.bottom > c.bottom + 1)
      faults.push("a box to fill in lies outside: " + words(b.parentElement));
  }
  for (const e of all("article.step, tr, .keep, .cautions, .live, svg")) {
    const r = e.getBoundingClientRect(), s = getComputedStyle(e);
    if (!e.closest("tr tr, svg svg") && !s.breakInside.startsWith("avoid") && e.tagName !== "svg")
      faults.push("may be split over pages: " + e.tagName + " " + words(e));
    if (r.height > sheet) faults.push("taller than a page: " + Math.round(r.height) + " px, " + e.tagName + " " + words(e));
  }
  // Texts over texts: a row of letters is taken without the air above and below it.
  const rows = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; (n = walk.nextNode()); ) {
    const e = n.parentElement;
    if (!n.data.trim() || !here(e) || getComputedStyle(e).visibility === "hidden") continue;
    if (e.closest("title, desc, style, [transform*=rotate]")) continue;
    const range = document.createRange();
    range.selectNodeContents(n);
    // A drawing of several pages holds itself whole in each; what lies outside is not seen.
    const drawing = e.closest("svg") && e.closest("svg").getBoundingClientRect();
    for (const r of range.getClientRects()) {
      if (drawing && (r.top + r.bottom > 2 * drawing.bottom || r.top + r.bottom < 2 * drawing.top)) continue;
      if (r.width < 2 || r.height < 2) continue;
      const air = r.height * 0.22;
      rows.push({ n, l: r.left + 1, r: r.right - 1, t: r.top + air, b: r.bottom - air });
      if (r.right > paper + 2 || r.left < -2) faults.push("runs off the paper: " + words(e));
    }
  }
  rows.sort((a, b) => a.t - b.t);
  for (let i = 0; i < rows.length; i++)
    for (let k = i + 1; k < rows.length && rows[k].t < rows[i].b; k++) {
      const a = rows[i], b = rows[k];
      if (a.n !== b.n && a.l < b.r && b.l < a.r)
        faults.push("text over text: " + a.n.data.trim().slice(0, 40) + " / " + b.n.data.trim().slice(0, 40));
    }
  return [...new Set(faults)].join("\n");
})
