// One way to send JSON with the page's form token; null where there is no connection.

/** POST `body` to `path`. */
export async function send(path, body) {
  try {
    return await fetch(path, {
      method: "POST",
      headers: {
        "Content-Type": "application/json",
        "X-Dawnlevel-Token": document.querySelector("meta[name=dawnlevel-token]").content,
      },
      body: JSON.stringify(body),
    });
  } catch {
    return null;
  }
}
