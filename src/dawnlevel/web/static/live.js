// Hears from the server that another device, or another program, has recorded something.

/** Call `changed` when the records of the tank at `path` change, `back` whenever the connection stands. */
export function listen(path, changed, back) {
  let seen = null;
  const source = new EventSource(`${path}/events`);
  const hear = (event) => {
    const { revision } = JSON.parse(event.data);
    if (seen !== null && revision !== seen) changed();
    seen = revision;
  };
  source.addEventListener("hello", hear);
  source.addEventListener("hello", back);
  source.addEventListener("changed", hear);
  addEventListener("pagehide", () => source.close());
}
