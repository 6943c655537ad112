// Asking the server: JSON there and back; a slip comes as an error with its words.

export class Slip extends Error {
  constructor(words, status) {
    super(words);
    this.status = status;
  }
}

/** The answer of an address; `body` makes it a change. The page's own casting and variant go along. */
export async function ask(address, body) {
  const own = new URLSearchParams(location.search);
  const url = new URL(address, location.origin);
  for (const name of ["casting", "variant"]) if (own.has(name) && !url.searchParams.has(name)) url.searchParams.set(name, own.get(name));
  const options = body === undefined ? {} : { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) };
  let answer;
  try {
    answer = await fetch(url, { ...options, headers: { accept: "application/json", ...options.headers } });
  } catch {
    throw new Slip("The page's program does not answer. What you typed is still here; start it again, then send it.", 0);
  }
  const told = await answer.json().catch(() => ({ slip: "the answer cannot be read" }));
  if (!answer.ok) throw new Slip(told.slip ?? "that did not work", answer.status);
  return told;
}
