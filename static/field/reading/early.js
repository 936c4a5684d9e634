/** What was typed, ticked or chosen in a form before its script was there: {name: value}. */
export function typedEarly(form) {
  const found = {};
  for (const { name, type, value, defaultValue, checked, defaultChecked } of form.elements) {
    if (!name) continue;
    if (type === "checkbox") {
      if (checked && !defaultChecked) found[name] = [...(found[name] ?? []), value];
    } else if (type === "radio") {
      if (checked && !defaultChecked) found[name] = value;
    } else if (value !== defaultValue) found[name] = value;
  }
  return found.tail_text ? { ...found, tail: "read" } : found;
}
