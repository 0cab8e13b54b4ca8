// Every box of the page against the box it stands in, and against its neighbours: a list of what sticks out or overlaps.
() => {
  const found = [];
  const HAIR = 1.5; // what rounding to whole pixels may come to
  const told = (at) => {
    const named = at.id ? `#${at.id}` : at.classList.length ? `.${[...at.classList].join(".")}` : "";
    return `${at.tagName.toLowerCase()}${named} “${(at.innerText || at.value || "").trim().slice(0, 24)}”`;
  };
  const flows = (style) => !["absolute", "fixed", "sticky"].includes(style.position) && style.float === "none";
  const seen = (at, box, style) => box.width > 0 && box.height > 0 && style.visibility !== "hidden";
  const boxes = new Map();
  for (const at of document.body.querySelectorAll("*")) {
    if (at.closest("svg, template, datalist, .aside, canvas, select, details:not([open]) > :not(summary)")) continue;
    const style = getComputedStyle(at);
    if (style.display === "none" || style.display === "contents") continue;
    const box = at.getBoundingClientRect();
    if (seen(at, box, style)) boxes.set(at, [box, style]);
  }
  for (const [at, [box, style]] of boxes) {
    if (!flows(style)) continue;
    const [around, room] = boxes.get(at.parentElement) ?? [];
    const clips = room && (room.overflowX !== "visible" || room.overflowY !== "visible");
    const isInline = room && room.display.startsWith("inline") && !room.display.includes("-");
    if (around && !clips && !isInline && at.parentElement !== document.body) {
      const off = { left: around.left - box.left, right: box.right - around.right, bottom: box.bottom - around.bottom };
      if (style.display === "inline" || at.rowSpan > 1) delete off.bottom; // a line is lower than its letters, a cell of several rows than the first
      for (const [side, by] of Object.entries(off)) {
        if (by > HAIR) found.push(`${told(at)} sticks out of ${told(at.parentElement)} at its ${side} by ${by.toFixed(1)}`);
      }
    }
    const holds = style.overflowX === "visible" && style.display !== "inline" && !at.matches("input, textarea");
    if (holds && at.scrollWidth > at.clientWidth + HAIR && at.clientWidth > 0 && !at.matches("tr, tbody, thead, table")) {
      found.push(`${told(at)} holds ${at.scrollWidth - at.clientWidth} more than it is wide`);
    }
  }
  for (const [at, [, style]] of boxes) {
    const inside = [...at.children].filter((each) => boxes.has(each) && flows(boxes.get(each)[1]));
    if (inside.length < 2 || inside.length > 400 || style.display === "inline") continue;
    for (let one = 0; one < inside.length - 1; one += 1) {
      for (let other = one + 1; other < Math.min(inside.length, one + 12); other += 1) {
        const [[a, first], [b, second]] = [boxes.get(inside[one]), boxes.get(inside[other])];
        if (first.display === "inline" || second.display === "inline") continue;
        const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (across > HAIR && down > HAIR) {
          found.push(`${told(inside[one])} and ${told(inside[other])} overlap by ${across.toFixed(0)} × ${down.toFixed(0)}`);
        }
      }
    }
  }
  const over = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  if (over > 0) found.push(`the page is ${over} wider than the screen`);
  return found;
}
