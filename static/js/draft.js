// What was typed into a form, kept on the phone until the server has it. Where the browser keeps nothing
// (a private window, a full phone), the form works on without.
function trying(what) {
  try {
    return what();
  } catch {
    return null;
  }
}

export function keep(form, name) {
  const typed = [...new FormData(form)].filter(([field]) => field !== "csrfmiddlewaretoken");
  trying(() => localStorage.setItem(name, JSON.stringify(Object.fromEntries(typed))));
}

export function forget(name) {
  trying(() => localStorage.removeItem(name));
}

// Puts a kept draft back into its form and says whether there was one. A draft that the server has under its key is done.
export function restore(form, name, storedKeys) {
  const draft = trying(() => JSON.parse(localStorage.getItem(name)));
  if (!draft) return false;
  if (storedKeys.includes(draft.key)) {
    forget(name);
    return false;
  }
  for (const [field, value] of Object.entries(draft)) if (form.elements[field]) form.elements[field].value = value;
  return true;
}
