// Making elements. What is text stays text, so nothing that somebody typed can become markup.

const SVG = "http://www.w3.org/2000/svg";

/** An element: attributes by name, listeners under `on`, children as nodes or text; null children are left out. */
export function el(name, attributes = {}, ...children) {
  return filled(document.createElement(name), attributes, children);
}

/** The same for a drawing. */
export function svg(name, attributes = {}, ...children) {
  return filled(document.createElementNS(SVG, name), attributes, children);
}

function filled(node, { on = {}, ...attributes }, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) node.setAttribute(name, "");
    else if (value !== null && value !== undefined && value !== false) node.setAttribute(name, value);
  }
  for (const [event, listener] of Object.entries(on)) node.addEventListener(event, listener);
  node.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== ""));
  return node;
}

/** A button that does something here; links go somewhere else. */
export function button(text, click, attributes = {}) {
  return el("button", { type: "button", ...attributes, on: { click } }, text);
}
