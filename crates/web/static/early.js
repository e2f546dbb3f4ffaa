// Runs before the first paint, so that the page never flashes in the wrong light or size.
(() => {
  try {
    const kept = JSON.parse(localStorage.getItem('levigate-settings') || '{}');
    const root = document.documentElement;
    if (kept.theme === 'light' || kept.theme === 'dark') root.dataset.theme = kept.theme;
    if (kept.size) root.dataset.size = kept.size;
    if (kept.spacing) root.dataset.spacing = kept.spacing;
  } catch {
    // Without storage the page follows the device.
  }
})();
