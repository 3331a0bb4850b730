// Elements of a page, made in one line.

export function element(name, text, more) {
  const e = Object.assign(document.createElement(name), more);
  if (text) e.textContent = text;
  return e;
}

export function button(text, do_) {
  const b = element("button", text, { type: "button" });
  b.addEventListener("click", do_);
  return b;
}
