// Before anything is drawn: the scheme that was chosen here, else what the system prefers.
(() => {
  let chosen = null;
  try { chosen = localStorage.getItem("scheme"); } catch { /* a browser that keeps nothing */ }
  const dark = chosen ? chosen === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  document.documentElement.dataset.scheme = dark ? "dark" : "light";
})();
