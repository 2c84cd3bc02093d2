// What is typed and not entered yet: kept as long as the tab is, so that a locked screen or a reload takes no digit away.

/** What was typed under a name; empty where nothing was. */
export function draftOf(name) {
  try {
    return sessionStorage.getItem(name) ?? "";
  } catch {
    return "";
  }
}

/** Keep what is being typed under a name; nothing forgets it. */
export function keepDraft(name, text) {
  try {
    if (text) sessionStorage.setItem(name, text);
    else sessionStorage.removeItem(name);
  } catch {
    // a browser that keeps nothing for a tab loses what was typed, as any page does
  }
}
