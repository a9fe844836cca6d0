// How an answer that waited is sent.

export function cookieIn(cookies, name) {
  const found = cookies.split("; ").find((part) => part.startsWith(`${name}=`));
  return found ? decodeURIComponent(found.slice(name.length + 1)) : "";
}

function cookie(name) {
  return cookieIn(document.cookie, name);
}

// Its fields and photos, and how many seconds ago it was given: the device's clock may be wrong.
export function formOf(entry, now) {
  const body = new FormData();
  for (const [name, value] of entry.fields) body.append(name, value);
  body.set("age", String(Math.max(0, (now - entry.at) / 1000)));
  for (const blob of entry.blobs || []) body.append("files", blob.content, blob.name);
  return body;
}

export function post(entry) {
  const proof = cookie("__Host-csrftoken") || cookie("csrftoken"); // the first one behind TLS
  return fetch(entry.url, {
    method: "POST",
    body: formOf(entry, Date.now()),
    headers: { Accept: "application/json", "X-CSRFToken": proof },
    redirect: "manual",
    credentials: "same-origin",
  });
}
