// At the closed door: a browser that was let in before knows its room (no other port can read what is kept for this
// one), so reloading the printed address, or a bookmark of a view, leads back into it.
(async () => {
  let room = null;
  try { room = localStorage.getItem("room"); } catch { /* a browser that keeps nothing */ }
  if (!room || !/^\/[\w-]{43}\/$/.test(room)) return;
  const answer = await fetch(`${room}static/mark.svg`, { cache: "no-store" });
  if (!answer.ok) {
    localStorage.removeItem("room"); // of an earlier run
    return;
  }
  const [, rest] = location.pathname.match(/^\/[\w-]{43}\/(.*)$/) ?? [];
  location.replace(rest === undefined ? room : room + rest + location.search);
})();
