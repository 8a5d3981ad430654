// Runs the starter notebook once, when JupyterLab opens on it, so that the explorer is live.
// The server names that notebook only if the file is, to the byte, the one that travels with the kit:
// no other notebook is ever run unasked.
(function () {
  const wanted = JSON.parse(document.getElementById("jupyter-config-data").textContent).tacticalKitRun;

  const wait = (found, tries) =>
    new Promise((resolve) => {
      const look = () => {
        const value = found();
        if (value || tries-- <= 0) resolve(value);
        else setTimeout(look, 100);
      };
      look();
    });

  async function run(app) {
    if (!wanted) return;
    await app.restored;
    const panel = await wait(() => {
      const widget = app.shell.currentWidget;
      return widget && widget.context && widget.context.path === wanted ? widget : null;
    }, 300);
    if (!panel) return;
    await panel.context.ready;
    await panel.sessionContext.ready;
    // A page that is loaded again finds its outputs and its kernel as they were.
    const cells = panel.content.widgets.map((cell) => cell.model);
    if (cells.some((model) => model.type === "code" && model.executionCount !== null)) return;
    // On a narrow screen the file list gives its room to the explorer; a click on the folder brings it back.
    if (window.innerWidth < 1500) app.shell.collapseLeft();
    const running = app.commands.execute("notebook:run-all-cells");
    // Running moves to the last cell; the reader starts at the top.
    await panel.content.scrollToItem(0).catch(() => {});
    panel.content.activeCellIndex = 0;
    await running;
  }

  const plugin = {
    id: "tactical-kit-starter:run",
    description: "Runs the kit's own starter notebook when it opens.",
    autoStart: true,
    activate: (app) => {
      run(app).catch((error) => console.error("The starter notebook did not run by itself:", error));
    },
  };
  window._JUPYTERLAB = window._JUPYTERLAB || {};
  window._JUPYTERLAB["tactical-kit-starter"] = {
    init: () => {},
    get: async () => () => ({ __esModule: true, default: plugin }),
  };
})();
