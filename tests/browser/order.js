// What the Tab key reaches, in its order: whatever comes later must not stand before, neither above nor to the left.
() => {
  const HAIR = 4;
  const stops = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]")].filter((at) => {
    if (at.disabled || at.type === "hidden" || at.tabIndex < 0 || at.closest("svg, .skip, .aside")) return false;
    if (at.id === "scheme") return false; // it ends the head, wherever there is room for it
    const box = at.getBoundingClientRect();
    if (!box.width || !box.height || getComputedStyle(at).visibility === "hidden") return false;
    for (let up = at; up && up !== document.body; up = up.parentElement) {
      if (["fixed", "sticky"].includes(getComputedStyle(up).position)) return false;
    }
    return true;
  });
  const told = (at) => `${at.tagName.toLowerCase()} “${(at.getAttribute("aria-label") || at.innerText || at.name || "").trim().slice(0, 30)}”`;
  const found = stops.filter((at) => at.tabIndex > 0).map((at) => `${told(at)} has an order of its own`);
  for (let place = 1; place < stops.length; place += 1) {
    const levers = stops[place].closest(".levers"); // a figure stands over the slider that it moves: one thing with it
    if (levers && levers === stops[place - 1].closest(".levers")) continue;
    const [before, after] = [stops[place - 1], stops[place]].map((at) => at.getBoundingClientRect());
    const isAbove = after.bottom <= before.top + HAIR && after.left < before.right - HAIR;
    const isLeft = Math.abs(after.top - before.top) <= HAIR && after.right <= before.left + HAIR;
    if (isAbove || isLeft) found.push(`${told(stops[place])} is reached after ${told(stops[place - 1])} and stands before it`);
  }
  return found;
}
