// What keeps somebody who reads a paper with other means from it: language, title, headings in
// order, heads of tables, words for drawings, contrast, links that lead somewhere. Contrast as
// WCAG 2.1 defines it in "relative luminance" and "contrast ratio"; 4.5, and 3 for large letters
// (1.4.3). Gives one fault a row.
(() => {
  const faults = [];
  const words = e => e.textContent.replace(/\s+/g, " ").trim().slice(0, 70);
  const seen = e => e.getClientRects().length > 0;
  if (document.documentElement.lang !== "en") faults.push("no language");
  if (!document.title.trim()) faults.push("no title");
  if (!document.querySelector("h1")) faults.push("no heading of the first order");
  let last = 0;
  for (const h of document.querySelectorAll("h1, h2, h3, h4, h5, h6")) {
    if (!seen(h)) continue;
    const level = +h.tagName[1];
    if (level > last + 1) faults.push("from a heading of order " + last + " to " + level + ": " + words(h));
    if (!words(h)) faults.push("an empty heading");
    last = level;
  }
  for (const table of document.querySelectorAll("table")) {
    if (!table.querySelector("th")) faults.push("a table without heads: " + words(table));
    for (const th of table.querySelectorAll("th")) {
      const scope = th.getAttribute("scope");
      if (!["col", "row", "colgroup", "rowgroup"].includes(scope)) faults.push("a head of nothing: " + words(th));
    }
  }
  for (const e of document.querySelectorAll("img")) if (!e.hasAttribute("alt")) faults.push("a picture without words");
  for (const e of document.querySelectorAll("svg")) {
    if (e.getAttribute("aria-hidden") === "true" || e.parentElement.closest("svg")) continue;
    const named = (e.getAttribute("aria-labelledby") || "").split(" ").map(id => document.getElementById(id));
    if (e.getAttribute("role") !== "img" || !named.length || named.some(n => !n || !n.textContent.trim()))
      faults.push("a drawing without words: " + words(e));
  }
  const ids = [...document.querySelectorAll("[id]")].map(e => e.id);
  for (const id of ids.filter((id, i) => ids.indexOf(id) !== i)) faults.push("a name given twice: " + id);
  for (const a of document.querySelectorAll("a[href^='#']"))
    if (!document.getElementById(a.getAttribute("href").slice(1))) faults.push("a link to nothing: " + a.href);
  for (const e of document.querySelectorAll("[src], link, script"))
    if (!(e.getAttribute("src") || "").startsWith("data:")) faults.push("something from outside: " + e.outerHTML.slice(0, 80));
  const rgb = text => (text.match(/[\d.]+/g) || []).map(Number);
  const light = ([r, g, b]) => [r, g, b].map(v => v / 255)
    .map(v => v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const behind = e => {
    for (; e; e = e.parentElement) {
      const c = rgb(getComputedStyle(e).backgroundColor);
      if (c.length === 3 || c[3] > 0) return c;
    }
    return [255, 255, 255];
  };
  const dim = new Set();
  for (const e of document.querySelectorAll("body *")) {
    const own = [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim());
    if (!own || !seen(e) || e.closest("svg, .draft")) continue;
    const s = getComputedStyle(e), a = light(rgb(s.color)), b = light(behind(e));
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), size = parseFloat(s.fontSize);
    const wanted = size >= 24 || size >= 18.66 && +s.fontWeight >= 700 ? 3 : 4.5;
    if (ratio < wanted) dim.add("contrast " + ratio.toFixed(1) + ": " + words(e));
  }
  return [...faults, ...dim].join("\n");
})()
