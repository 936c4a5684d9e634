// Shapes of the flow states on a canvas; templates/_mark.html draws the same ones in HTML.

/** Draw the mark of a flow state (its number) at x, y with a radius in device pixels. */
export function drawMark(pen, code, x, y, r) {
  pen.beginPath();
  if (code === 0 || code === 1) pen.arc(x, y, r * 0.8, 0, 2 * Math.PI);
  else if (code === 2 || code === 3) {
    pen.moveTo(x, y - r);
    pen.lineTo(x + r, y + r * 0.8);
    pen.lineTo(x - r, y + r * 0.8);
    pen.closePath();
  } else if (code === 4) {
    pen.moveTo(x - r, y);
    pen.lineTo(x + r, y);
  } else {
    pen.moveTo(x - r, y - r);
    pen.lineTo(x + r, y + r);
    pen.moveTo(x + r, y - r);
    pen.lineTo(x - r, y + r);
  }
  if (code === 0 || code === 2) pen.fill();
  else pen.stroke();
}

/** Draw the flag that says "look at the words" above a mark. */
export function drawFlag(pen, x, y, r) {
  const foot = y - r * 1.5;
  pen.beginPath();
  pen.moveTo(x, foot);
  pen.lineTo(x, foot - r * 2);
  pen.lineTo(x + r * 1.4, foot - r * 1.4);
  pen.lineTo(x, foot - r * 0.8);
  pen.stroke();
}
