/** The picture on a check gauging's page: the same drawing as on the phone, from the office's sums. */
import { drawSection, drawTrace } from "/static/shared/gauging_picture.js";

const figure = document.querySelector("[data-gauging]");
const answer = await fetch(figure.dataset.gauging, { credentials: "same-origin" });
if (answer.ok) {
  const { gauging, observed } = await answer.json();
  const box = document.getElementById("picture");
  if (observed.method === "velocity_area") drawSection(box, gauging);
  else
    drawTrace(box, {
      time_s: observed.time_s,
      trace: observed.conductivity_us_cm,
      second: observed.second_us_cm,
      background: [gauging.background, gauging.background_end],
    });
}
