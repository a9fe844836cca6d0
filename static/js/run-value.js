// The value of a check is chosen and copied; where copying is not allowed it stays chosen, ready
// for the device's own menu.

async function copied(value) {
  try {
    await navigator.clipboard.writeText(value.textContent);
    return true;
  } catch {
    return copiedOverPlainHttp(value); // there is no clipboard there
  }
}

function copiedOverPlainHttp(value) {
  getSelection().selectAllChildren(value);
  try {
    return document.execCommand("copy");
  } catch {
    return false;
  }
}

export async function copyValue(button, said) {
  const value = button.closest("[data-value]").querySelector("[data-copy]");
  const isCopied = await copied(value);
  button.firstChild.textContent = isCopied ? "Copied" : "Chosen";
  said(isCopied ? "Copied." : "The value is chosen: copy it with your device.");
}
