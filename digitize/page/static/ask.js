// Asking the server; what is wrong comes back as words.

export class Refused extends Error {}

async function answered(request) {
  let answer;
  try {
    answer = await fetch(...request);
  } catch {
    throw new Refused("The page cannot reach the program: is it still running?");
  }
  if (answer.status === 401) throw new Refused(await answer.text());
  const said = await answer.json().catch(() => ({ error: "The program gave no answer." }));
  if (!answer.ok) throw new Refused(said.error ?? "The program gave no answer.");
  return said;
}

export function get(path, signal) {
  return answered([path, { signal }]);
}

export function post(path, said = {}) {
  const headers = { "content-type": "application/json" };
  return answered([path, { method: "POST", headers, body: JSON.stringify(said) }]);
}

/** Send a file; `told` hears what share of it has gone. */
export function send(path, file, told) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("POST", path);
    request.upload.onprogress = (event) => event.lengthComputable && told(event.loaded / event.total);
    request.onload = () => {
      let said = {};
      try {
        said = JSON.parse(request.responseText);
      } catch {
        said = { error: request.responseText };
      }
      if (request.status < 300) resolve(said);
      else reject(new Refused(said.error ?? "The photo was not taken."));
    };
    request.onerror = () => reject(new Refused("The page cannot reach the program."));
    request.send(file);
  });
}

/** Millimetres, of a length as people write it; `unit` is what a bare number is in. */
export async function lengthIn(words, unit) {
  return (await get(`/api/length?words=${encodeURIComponent(words)}&unit=${unit}`)).mm;
}

export const named = (name) => `/api/patterns/${encodeURIComponent(name)}`;

/** A file's bytes. */
export async function bytes(path) {
  const answer = await fetch(path).catch(() => null);
  if (!answer) throw new Refused("The page cannot reach the program: is it still running?");
  if (answer.ok) return answer.arrayBuffer();
  throw new Refused((await answer.json().catch(() => ({}))).error ?? "The program gave no answer.");
}
