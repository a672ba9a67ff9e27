// Hears from the server that another device, or another program, has recorded something.

const AGAIN_MS = 20000;

/**
 * Call `changed` when the records of the tank at `path` change, and when the server refuses to tell: the page then
 * learns from its next request whether this device may still enter. `back` is called whenever the connection stands.
 */
export function listen(path, changed, back) {
  let seen = null;
  let source = null;
  const hear = (event) => {
    const { revision } = JSON.parse(event.data);
    if (seen !== null && revision !== seen) changed();
    seen = revision;
  };
  const open = () => {
    source = new EventSource(`${path}/events`);
    source.addEventListener("hello", hear);
    source.addEventListener("hello", back);
    source.addEventListener("changed", hear);
    source.addEventListener("error", () => {
      if (source.readyState !== EventSource.CLOSED) return; // a lost connection is sought again by the browser
      changed();
      setTimeout(open, AGAIN_MS);
    });
  };
  open();
  addEventListener("pagehide", () => source.close());
}
